"""Cycles of a log of everything: repeated for ever where it ends as full as it began, else counted once."""

from dataclasses import replace

import numpy as np

from lifetime.stress.cycles import (
    CHARGE,
    CHARGED,
    CHARGING_TIME,
    POINT_ROWS,
    THROUGHPUT,
    CycleTable,
    ends_joined,
    from_points,
    join,
)
from lifetime.stress.drive import Drive
from lifetime.stress.rainflow import Extracted, close_loop, extract, open_halves, turning_points

_CLOSED = 0.01
"""Net charge of a log, relative to its own span of charge, below which it ends where it began."""


def log_cycles(drive: Drive) -> CycleTable:
    """Count a log's cycles by ASTM E1049-85: 5.4.5 (repeating) where it closes, 5.4.4 (once, with halves) elsewhere.

    A year holds many copies of the log. Where it closes, its ranges are those of the copies in a row, so a log that
    holds the same duty twice counts twice the cycles. For the same reason a cycle's rate and temperature are its own,
    without those of the cycles inside it. Elsewhere nothing is known of how the charge comes back.

    Args:
        drive: The log, traced.
    """
    points = drive.open_points[:, turning_points(drive.open_points[CHARGE])]
    if abs(drive.drawn_As) <= _CLOSED * (drive.highest_As - drive.lowest_As):
        closed = close_loop(ends_joined(points), running_from=THROUGHPUT, apart=True)
        return join([drive.cycles, from_points(closed)])
    found, rest = extract(points, start_counts_half=True, apart_from=THROUGHPUT)
    full = found.count == 1.0
    cycles = Extracted(found.first[:, full], found.second[:, full], found.closing[:, full], found.count[full])
    halves = join(
        [
            _half_cycles(
                Extracted(found.first[:, ~full], found.second[:, ~full], found.second[:, ~full], found.count[~full]),
                drive,
            ),
            _half_cycles(open_halves(rest), drive),
        ]
    )
    return join([drive.cycles, from_points(cycles), halves])


def _half_cycles(halves: Extracted, drive: Drive) -> CycleTable:
    """Half cycles by themselves; a discharge is brought back at the log's mean charging current, if it has any."""
    table = from_points(halves)
    totals = drive.open_points[:, -1] if drive.open_points.size else np.zeros(POINT_ROWS)
    if totals[CHARGING_TIME] <= 0.0:
        return table
    discharging = halves.second[CHARGE] > halves.first[CHARGE]
    mean_A = totals[CHARGED] / totals[CHARGING_TIME]
    return replace(
        table,
        charge_rate_A=np.where(discharging, mean_A, table.charge_rate_A),
        time_mean_charge_rate_A=np.where(discharging, mean_A, table.time_mean_charge_rate_A),
    )
