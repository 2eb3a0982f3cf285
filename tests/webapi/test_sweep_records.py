"""Sweeps on record: rows written by an earlier version open under today's names."""

import pytest

from webapi import models
from webapi.database import write
from webapi.services import sweeps

KEY = "battery.parallel"


def row(place, cost, **figures):
    return models.SweepRow(
        sweep_id="a" * 32,
        place=place,
        candidate=place // 2,
        strategy="alone" if figures["has_bank"] == 0.0 else "split",
        net_present=cost,
        battery_life_years=8.0,
        figures={KEY: 1.0 + place // 2, "cells_kg": 100.0, **figures},
    )


@pytest.fixture
def former_sweep(session):
    """Two candidates with two strategies each, as rows were kept when break-even prices were factors."""
    sweep = models.Sweep(
        id="a" * 32,
        title="Former",
        document={"title": "Former"},
        axes=[{"key": KEY, "values": [1.0, 2.0], "scale": "linear"}],
        candidates=2,
        program_version="0.0.9",
    )
    hybrid = {"has_bank": 1.0, "bank_life_years": 12.0, "battery_loss_at_service_end": 0.1}
    factors = {"break_even_bank_price": 1.5, "break_even_battery_price": 0.5}
    with write(session):
        session.add(sweep)
        session.flush()
        session.add_all(
            [
                row(0, 100.0, has_bank=0.0),
                row(1, 90.0, **hybrid, **factors),
                row(2, 110.0, has_bank=0.0),
                row(3, 95.0, **hybrid, **factors),
            ]
        )
    return sweep


def test_former_rows_open_and_their_factors_are_not_taken_for_prices(session, former_sweep):
    _, summary = sweeps.summary(session, former_sweep.id)
    best = summary.best_with_ultracapacitor
    assert (summary.rows, best["net_present_cost"], best["strategy"]) == (4, 90.0, "split")
    assert (best["ultracapacitor_life_years"], best["battery_capacity_loss_at_service_end"]) == (12.0, 0.1)
    assert [neighbour.net_present_cost for neighbour in summary.neighbours] == [95.0]
    assert summary.break_even == ()
