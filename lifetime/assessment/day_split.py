"""A strategy's day second by second: powers, modes, and where the ageing comes about."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from lifetime.assessment.setups import Operation, SourceSetup
from lifetime.assessment.split_outcome import SplitOutcome
from lifetime.assessment.timeline import IntervalCurrents, ageing_timeline
from lifetime.checks import FloatArray
from lifetime.constants import JOULES_PER_KWH, SECONDS_PER_HOUR
from lifetime.results.records import AgeingTimeline, DaySplit, ModeRow
from lifetime.split.modes import DEAD_BAND, MODES, changes, figures, modes_of, transfer_W
from lifetime.split.share import SharedPass
from lifetime.stress.current import to_currents
from lifetime.stress.intervals import NO_CROSSINGS, Intervals
from lifetime.stress.source import Source


def split_day(operation: Operation, outcome: SplitOutcome) -> DaySplit:
    """Lay modes and ageing over a strategy's day.

    Args:
        operation: How the vehicle is operated.
        outcome: The strategy's split with its traces and lives.
    """
    drivetrain, traces, life = outcome.drivetrain, outcome.traces, outcome.life
    length = np.concatenate([drive.length_s for drive in outcome.passes])
    battery_W = np.concatenate([drive.battery_W for drive in outcome.passes])
    bank_W = np.concatenate([drive.bank_W for drive in outcome.passes])
    terminals_W = battery_W + bank_W
    codes = modes_of(battery_W, bank_W, DEAD_BAND * float(np.max(np.abs(terminals_W), initial=0.0)))
    yearly = operation.yearly(traces.battery.new.length_s)
    currents = IntervalCurrents(length, _battery_current_A(length, battery_W, drivetrain.battery.source))
    battery = ageing_timeline(drivetrain.battery, traces.battery.new, yearly, currents, life.battery.loss_by_mechanism)
    parts = [_Part(drivetrain.battery, battery_W, battery)]
    bank = None
    if drivetrain.ultracapacitor is not None and traces.ultracapacitor is not None and life.ultracapacitor is not None:
        currents = IntervalCurrents(length, np.concatenate([drive.bank_A for drive in outcome.passes]))
        lost = life.ultracapacitor.loss_by_mechanism
        bank = ageing_timeline(drivetrain.ultracapacitor, traces.ultracapacitor.new, yearly, currents, lost)
        parts.append(_Part(drivetrain.ultracapacitor, bank_W, bank))
    return DaySplit(
        length_s=length,
        demand_W=terminals_W - _lost_W(outcome.passes),
        battery_W=battery_W,
        ultracapacitor_W=bank_W,
        mode=codes,
        passes=len(outcome.passes),
        mode_changes=changes(codes),
        transfer_kWh=float(np.sum(transfer_W(battery_W, bank_W) * length)) / JOULES_PER_KWH,
        rows=tuple(row for part in parts for row in _mode_rows(part, codes, length)),
        battery=battery,
        ultracapacitor=bank,
    )


def _lost_W(passes: list[SharedPass]) -> FloatArray:
    """What converters, inverters and windings lose between the terminals and the machine [W]."""
    return np.concatenate([np.zeros(one.length_s.size) if one.lost_W is None else one.lost_W for one in passes])


@dataclass(frozen=True, slots=True, eq=False)
class _Part:
    """What one source contributes to the day."""

    setup: SourceSetup
    power_W: FloatArray
    ageing: AgeingTimeline


def _battery_current_A(length_s: FloatArray, power_W: FloatArray, source: Source) -> FloatArray:
    run = Intervals(length_s, power_W, power_W, None, None, 0, NO_CROSSINGS)
    # Drawn to three digits, and only shares of a day are made of it.
    return to_currents(run, source, 0.0, fine=False)[0].mean


def _mode_rows(part: _Part, codes: NDArray[np.intp], length_s: FloatArray) -> list[ModeRow]:
    ageing, source = part.ageing, part.setup.source
    rows = []
    for code, mode in enumerate(MODES):
        among = codes == code
        in_mode = figures(among, length_s, part.power_W, ageing.current_A, source.resistance_ohm)
        lost = float(ageing.capacity_loss_fraction[among].sum())
        rows.append(
            ModeRow(
                mode=mode,
                part=part.setup.kind,
                time_s=float(length_s[among].sum()),
                energy_out_kWh=in_mode.energy_out_J / JOULES_PER_KWH,
                energy_in_kWh=in_mode.energy_in_J / JOULES_PER_KWH,
                throughput_Ah=in_mode.throughput_As / SECONDS_PER_HOUR,
                rms_A=in_mode.rms_A,
                loss_kWh=in_mode.loss_J / JOULES_PER_KWH,
                capacity_loss_share_fraction=lost / ageing.total_fraction if ageing.total_fraction > 0.0 else 0.0,
            )
        )
    return rows
