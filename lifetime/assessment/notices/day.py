"""What is said about a source's traced day: open charge, length, temperature."""

from lifetime.assessment.setups import SourceSetup
from lifetime.constants import SECONDS_PER_DAY, SECONDS_PER_HOUR
from lifetime.notices import Notice
from lifetime.stress.day import Day
from lifetime.stress.source import Source

_SUBJECTS = {False: "each working day", True: "the log"}
_CLOSING = {
    False: "Cycles are counted as if the next day began at the start again (ASTM E1049 5.4.5).",
    True: "It is scaled to a year all the same.",
}
_SHORT_DRIVE_S = 60.0
"""A day driven for less than a minute is more likely a wrong unit than a duty."""
_OPEN_DAY = 0.01
"""Net charge a day may leave open, relative to capacity, before it is remarked on."""


def day_notices(day: Day, source: Source, *, power_driven: bool) -> list[Notice]:
    """Warn of a day that may not be what was meant, and note how its temperature came about.

    Args:
        day: Traced at the beginning of life.
        source: The source.
        power_driven: True where the source must deliver a power.
    """
    return [
        *_charge_balance(day, source, power_driven=power_driven),
        *_short_drive(day, source),
        *_temperature(day, source),
    ]


def _charge_balance(day: Day, source: Source, *, power_driven: bool) -> list[Notice]:
    open_fraction = day.open_charge_As / source.capacity_As
    if abs(open_fraction) <= _OPEN_DAY or not (source.is_battery or not power_driven):
        return []
    whole_log = day.length_s != SECONDS_PER_DAY
    side = "below" if open_fraction > 0.0 else "above"
    return [
        Notice(
            "day_does_not_close",
            f"Charge balance of the {source.kind} not closed: {_SUBJECTS[whole_log]} ends "
            f"{abs(day.open_charge_As) / SECONDS_PER_HOUR:.3g} Ah ({100 * abs(open_fraction):.1f} % of capacity) "
            f"{side} its start. {_CLOSING[whole_log]}",
        )
    ]


def charging_notices(day: Day, setup: SourceSetup) -> list[Notice]:
    """Warn where charging was held back by the pack's current or voltage.

    Args:
        day: Traced at the beginning of life.
        setup: The source.
    """
    notices, charging = [], setup.charging
    if charging.asked_A is not None and charging.current_A is not None and day.charging_s > 0.0:
        notices.append(
            Notice(
                "charging_current_limited",
                f"service.day.charge_c_rate asks for {charging.asked_A:.3g} A, above the peak current of the "
                f"{setup.kind}'s cells. It is charged at their {charging.current_A:.3g} A.",
            )
        )
    if day.charging_late_s > 0.0:
        notices.append(
            Notice(
                "charging_ends_late",
                f"Charging takes {day.charging_s / SECONDS_PER_HOUR:.3g} h and ends "
                f"{day.charging_late_s / SECONDS_PER_HOUR:.3g} h later than service.day.charge_ends_at_hour, although "
                "it begins right after the drive. Raise service.day.charge_c_rate, or state a later hour.",
            )
        )
    held_back = day.held_back_As / setup.source.capacity_As
    if held_back > _OPEN_DAY and day.charging_s + day.drive.duration_s < SECONDS_PER_DAY:
        notices.append(
            Notice(
                "charging_ends_at_voltage",
                f"Charging ends at the highest voltage of {setup.source.maximum_voltage_V:.4g} V, its current at a "
                f"twentieth, {100 * held_back:.3g} % of capacity before the state of charge asked for. Lower "
                "service.day.charge_to_soc, or check open_circuit and maximum_voltage_V.",
            )
        )
    return notices


def cycling_notices(source: Source) -> list[Notice]:
    """Note how an aged source is cycled, where that is not with the same charge.

    Args:
        source: The source.
    """
    if not source.keeps_soc_limits:
        return []
    return [
        Notice(
            "cycled_between_states_of_charge",
            f"The {source.kind} is cycled between the same states of charge of its present capacity, so its charge and "
            "current fall with its capacity; figures per year are those at the beginning of life.",
            "note",
        )
    ]


def _short_drive(day: Day, source: Source) -> list[Notice]:
    if day.length_s != SECONDS_PER_DAY or not source.is_battery or day.drive.duration_s >= _SHORT_DRIVE_S:
        return []
    return [
        Notice(
            "short_drive",
            f"A working day is driven for {day.drive.duration_s:.3g} s in all. Check the history's time unit and "
            "service.day.drive_repeats.",
        )
    ]


def _temperature(day: Day, source: Source) -> list[Notice]:
    if day.drive.end_measured_K is not None:
        return [
            Notice(
                "measured_temperature",
                f"While driving, the {source.kind} is at its measured temperature; heat is not added to it again.",
                "note",
            )
        ]
    if source.thermal is not None:
        return []
    return [
        Notice(
            "no_thermal_model",
            f"The {source.kind} has neither a thermal section nor a measured temperature, so it is taken to be at "
            "ambient temperature however much it is loaded.",
        )
    ]
