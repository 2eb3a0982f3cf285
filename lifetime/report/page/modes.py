"""Drive modes of a day as text, and what charging and rest contribute to the capacity loss."""

from collections.abc import Mapping
from dataclasses import dataclass

from lifetime.report.words import PARTS
from lifetime.results.day import DayView, DriveMode
from lifetime.text import percent, significant

MODES: Mapping[DriveMode, str] = {
    "traction": "traction",
    "regeneration": "regeneration",
    "battery_to_ultracapacitor": "battery charges ultracapacitor bank",
    "ultracapacitor_to_battery": "ultracapacitor bank charges battery",
    "idle": "idle",
}


@dataclass(frozen=True, slots=True)
class ModeRow:
    """What one source does in one mode, as text.

    Args:
        mode: The mode.
        part: The source.
        time: Duration [min].
        out: Energy out [kWh].
        into: Energy in [kWh].
        throughput: Charge + discharge [Ah].
        rms: Current [A].
        losses: Energy losses [kWh].
        share: Share of the source's capacity loss [%].
    """

    mode: str
    part: str
    time: str
    out: str
    into: str
    throughput: str
    rms: str
    losses: str
    share: str


def mode_rows(day: DayView | None) -> list[ModeRow]:
    """What each source does in each mode; modes that do not occur are left out.

    Args:
        day: Of a strategy, or None where it has none.
    """
    if day is None:
        return []
    return [
        ModeRow(
            mode=MODES[row.mode],
            part=PARTS[row.source],
            time=significant(row.duration_s / 60.0),
            out=significant(row.energy_out_kWh),
            into=significant(row.energy_in_kWh),
            throughput=significant(row.throughput_Ah),
            rms=significant(row.rms_current_A),
            losses=significant(row.energy_losses_kWh),
            share=percent(row.capacity_loss_share_fraction).removesuffix(" %"),
        )
        for row in day.modes
        if row.duration_s > 0.0
    ]


def loss_apart(day: DayView | None) -> str:
    """What charging and rest contribute, and how often the mode changes, in sentences.

    Args:
        day: Of a strategy, or None where it has none.
    """
    if day is None:
        return ""
    loss = day.battery_capacity_loss
    if loss.total_fraction <= 0.0:
        return ""
    charging, resting = (
        percent(part / loss.total_fraction) for part in (loss.charging_fraction, loss.resting_fraction)
    )
    return (
        f"Of the battery's capacity loss by service end, {charging} comes about while charging and {resting} at rest. "
        f"The mode changes {day.mode_changes:,} times per day; {significant(day.transfer_kWh)} kWh per day flow from "
        "one source to the other."
    )
