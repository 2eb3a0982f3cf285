"""A strategy's day second by second: powers, modes, and where the wear comes about."""

import numpy as np
from numpy.typing import NDArray

from lifetime.assess import build
from lifetime.assess.gain import Shared
from lifetime.assess.timeline import wear_timeline
from lifetime.checks import FloatArray
from lifetime.constants import JOULES_PER_KWH, SECONDS_PER_HOUR
from lifetime.results.records import AgeingTimeline, DaySplit, ModeRow, SourceResult
from lifetime.split.modes import DEAD_BAND, MODES, changes, figures, modes_of, transfer_W
from lifetime.stress.current import to_currents
from lifetime.stress.intervals import NO_CROSSINGS, Intervals
from lifetime.stress.source import Source
from lifetime.study.load import LoadedStudy


def split_day(loaded: LoadedStudy, this: Shared, sources: tuple[Source, Source | None]) -> DaySplit:
    """Lay modes and wear over a strategy's day.

    Args:
        loaded: The study with everything it names.
        this: The strategy, assessed, with its day.
        sources: Battery and bank as the trace sees them.
    """
    length = np.concatenate([one.length_s for one in this.day])
    battery_W = np.concatenate([one.battery_W for one in this.day])
    bank_W = np.concatenate([one.bank_W for one in this.day])
    bank_A = np.concatenate([one.bank_A for one in this.day])
    demand = battery_W + bank_W
    codes = modes_of(battery_W, bank_W, DEAD_BAND * float(np.max(np.abs(demand), initial=0.0)))
    battery_A = _battery_current(length, battery_W, sources[0])
    service = loaded.study.service
    runs = service.runs_per_year(this.traced[0].length_s)
    battery = wear_timeline(
        this.traced[0], sources[0], loaded.battery.law, loaded.ambient_K, runs, (length, battery_A),
        this.result.battery.loss_by_mechanism,
    )  # fmt: skip
    bank: AgeingTimeline | None = None
    section, cell, bank_day = loaded.study.ultracapacitor, loaded.ultracapacitor, this.traced[1]
    result: SourceResult | None = this.result.ultracapacitor
    if bank_day is not None and sources[1] is not None and section is not None and cell is not None and result:
        law = build.bank_law(section, cell)
        bank = wear_timeline(
            bank_day, sources[1], law, loaded.ambient_K, runs, (length, bank_A), result.loss_by_mechanism
        )
    rows = _rows(codes, length, (battery_W, battery, sources[0]), (bank_W, bank, sources[1]))
    return DaySplit(
        length_s=length,
        demand_W=demand,
        battery_W=battery_W,
        ultracapacitor_W=bank_W,
        mode=codes,
        passes=len(this.day),
        mode_changes=changes(codes),
        transfer_kWh=float(np.sum(transfer_W(battery_W, bank_W) * length)) / JOULES_PER_KWH,
        rows=tuple(rows),
        battery=battery,
        ultracapacitor=bank,
    )


def _battery_current(length_s: FloatArray, power_W: FloatArray, source: Source) -> FloatArray:
    run = Intervals(length_s, power_W, power_W, None, None, 0, NO_CROSSINGS)
    return to_currents(run, source, 0.0)[0].mean


def _rows(
    codes: NDArray[np.intp],
    length_s: FloatArray,
    *sources: tuple[FloatArray, AgeingTimeline | None, Source | None],
) -> list[ModeRow]:
    rows = []
    for power, wear, source in sources:
        if wear is None or source is None:
            continue
        for code, mode in enumerate(MODES):
            among = codes == code
            found = figures(among, length_s, power, wear.current_A, source.resistance_ohm)
            share = (
                float(wear.capacity_loss_fraction[among].sum()) / wear.total_fraction
                if wear.total_fraction > 0.0
                else 0.0
            )
            rows.append(
                ModeRow(
                    mode=mode,
                    part="battery" if source.is_battery else "ultracapacitor",
                    time_s=float(length_s[among].sum()),
                    energy_out_kWh=found.energy_out_J / JOULES_PER_KWH,
                    energy_in_kWh=found.energy_in_J / JOULES_PER_KWH,
                    throughput_Ah=found.throughput_As / SECONDS_PER_HOUR,
                    rms_A=found.rms_A,
                    loss_kWh=found.loss_J / JOULES_PER_KWH,
                    capacity_loss_share_fraction=share,
                )
            )
    return rows
