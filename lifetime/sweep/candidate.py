"""One candidate of a sweep: assessed, and summed up in a row for each strategy."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, Final

from lifetime.assessment.run import assess
from lifetime.costing.break_even import break_even_price
from lifetime.costing.terms import Source
from lifetime.errors import PackwearError
from lifetime.results.records import StrategyResult
from lifetime.study.load import LoadedStudy, resolve_study
from lifetime.sweep.axes import concerns, is_price, with_values
from lifetime.sweep.axis import Axis
from lifetime.sweep.cached_folder import CachedFolder

Row = dict[str, float | int | str | None]


_FOLDERS: dict[str, CachedFolder] = {}
"""Folders of this process: it opens every file once, for the check of a plan and all the batches it is given."""


def folder_of(base: str) -> CachedFolder:
    """The folder as this process shares it.

    Args:
        base: The folder's absolute path.
    """
    return _FOLDERS.setdefault(base, CachedFolder(Path(base)))


def rows_of_batch(
    data: Mapping[str, Any], base: str, axes: Sequence[Axis], points: Sequence[tuple[int, tuple[float, ...]]]
) -> list[Row]:
    """Assess a batch of candidates; what a worker is given.

    Args:
        data: The study as plain data.
        base: Folder that relative paths in it are relative to.
        axes: What is varied.
        points: Number and values of each candidate.

    Returns:
        One row a strategy and candidate, in order. A candidate that is no study, or cannot be assessed, has one row
        that says why.
    """
    folder = folder_of(base)
    rows: list[Row] = []
    lives: dict[tuple[str, tuple[float, ...]], StrategyResult] = {}
    for number, values in points:
        start: Row = {"candidate": number}
        start |= {axis.name: value for axis, value in zip(axes, values, strict=True)}
        try:
            loaded = resolve_study(with_values(data, axes, values), f"candidate {number}", folder)
            felt = {
                strategy.name: felt_values(at, axes, values, has_ultracapacitor=strategy.has_ultracapacitor)
                for at, strategy in enumerate(loaded.study.strategy)
            }
            known = {name: lives[name, feels] for name, feels in felt.items() if (name, feels) in lives}
            assessment = assess(loaded, in_detail=False, known=known)
        except PackwearError as error:
            rows.append({**start, "strategy": None, "problem": str(error)} | dict.fromkeys(FIGURES))
            continue
        lives |= {(result.name, felt[result.name]): result for result in assessment.strategies}
        mass = mass_kg(loaded)
        rows += [{**start, **_row(result, assessment.strategies, mass)} for result in assessment.strategies]
    return rows


def felt_values(
    strategy: int, axes: Sequence[Axis], values: Sequence[float], *, has_ultracapacitor: bool
) -> tuple[float, ...]:
    """The values among a candidate's that one strategy's lives depend on; candidates that share them share the lives.

    Args:
        strategy: Its place in the study, from 0.
        axes: What is varied.
        values: One value each.
        has_ultracapacitor: Whether it uses the ultracapacitor bank.
    """
    return tuple(
        value
        for axis, value in zip(axes, values, strict=True)
        if not is_price(axis.path) and concerns(axis.path, strategy, has_ultracapacitor=has_ultracapacitor)
    )


def mass_kg(loaded: LoadedStudy) -> tuple[float | None, float | None]:
    """Mass of the battery's and of the bank's cells [kg]; None where a parameter set does not say.

    Args:
        loaded: The study with everything it names.
    """
    pack, bank = loaded.study.battery, loaded.study.ultracapacitor
    battery = None if loaded.battery.mass_kg is None else loaded.battery.mass_kg * pack.series * pack.parallel
    if bank is None or loaded.ultracapacitor is None:
        return battery, 0.0
    cell = loaded.ultracapacitor.mass_kg
    return battery, None if cell is None else cell * bank.series * bank.parallel


FIGURES: Final = (
    "has_ultracapacitor",
    "net_present_cost",
    "battery_life_years",
    "ultracapacitor_life_years",
    "battery_capacity_loss_at_service_end",
    "battery_rms_A",
    "battery_peak_A",
    "cells_kg",
    "break_even_ultracapacitor_price",
    "break_even_battery_price",
)
"""Columns of a row that are figures; costs and prices in the study's currency, prices those of a whole pack or bank."""


def _row(result: StrategyResult, strategies: Sequence[StrategyResult], mass: tuple[float | None, float | None]) -> Row:
    alone = next((other for other in strategies if other.ultracapacitor is None), None)
    capacity = result.battery.capacity_fraction_at_service_end
    bank = result.ultracapacitor
    battery_kg, bank_kg = mass[0], 0.0 if bank is None else mass[1]
    return {
        "strategy": result.name,
        "problem": None,
        "has_ultracapacitor": float(bank is not None),
        "net_present_cost": None if result.life_cycle_cost is None else result.life_cycle_cost.net_present_cost,
        "battery_life_years": result.battery.life_years,
        "ultracapacitor_life_years": None if bank is None else bank.life_years,
        "battery_capacity_loss_at_service_end": None if capacity is None else 1.0 - capacity,
        "battery_rms_A": result.battery.rms_current_A,
        "battery_peak_A": result.battery.peak_current_A,
        "cells_kg": None if battery_kg is None or bank_kg is None else battery_kg + bank_kg,
        "break_even_ultracapacitor_price": _break_even("ultracapacitor", result, alone),
        "break_even_battery_price": _break_even("battery", result, alone),
    }


def _break_even(source: Source, result: StrategyResult, alone: StrategyResult | None) -> float | None:
    """Price at which a strategy costs as much as the battery alone; None where there is none."""
    if alone is None or result is alone or result.life_cycle_cost is None or alone.life_cycle_cost is None:
        return None
    return break_even_price(source, result.life_cycle_cost, alone.life_cycle_cost)
