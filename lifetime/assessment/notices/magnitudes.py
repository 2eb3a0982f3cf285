"""What is said where a day's currents or distance do not suit the vehicle: a wrong unit, sign or column."""

import numpy as np

from lifetime.constants import SECONDS_PER_HOUR
from lifetime.notices import Notice
from lifetime.stress.day import Day
from lifetime.stress.source import Source

HIGHEST_C_RATE = {True: 100.0, False: 5000.0}
"""Peak current over capacity [1/h], for a battery and for a bank, which is emptied in seconds; common practice, no
source."""
LOWEST_C_RATE = 0.001
"""Below this a source is not used at all: mA in place of A, or kW read as W; common practice, no source."""
DISTANCE_TOLERANCE = 0.1
"""Relative difference of stated and driven distance that a speedometer and a slip of the wheels explain."""


SAME_VOLTAGE = 0.1
"""Relative difference of a battery's first measured voltage and its open-circuit voltage that ageing, temperature and a
rough curve explain; common practice, no source."""


def battery_voltage_notices(measured_V: float | None, source: Source) -> list[Notice]:
    """Warn where the battery's measured voltage is not that of the pack which the study describes.

    Args:
        measured_V: Open-circuit voltage at the first sample of its own history [V]; None where it has no voltage.
        source: The battery.
    """
    open_V = float(source.open_circuit_V(np.array(source.start_soc)))
    if measured_V is None or abs(measured_V - open_V) <= SAME_VOLTAGE * open_V:
        return []
    return [
        Notice(
            "measured_voltage_differs",
            f"The battery's history begins at {measured_V:.4g} V (terminal voltage and drop in the resistance), and "
            f"{source.series} cells in series have {open_V:.4g} V at battery.start_soc = {source.start_soc:g}: energy, "
            "heat and price are those of the pack in the study, not of the one measured. Correct battery.series, "
            "battery.start_soc, the unit of the voltage, or quantities_of.",
        )
    ]


def current_notices(day: Day, source: Source, *, power_driven: bool) -> list[Notice]:
    """Warn of currents that the source's own size makes implausible.

    Args:
        day: Traced at the beginning of life.
        source: The source.
        power_driven: True where a split of a demand loads it, False where its own history does.
    """
    drive, capacity_Ah = day.drive, source.capacity_As / SECONDS_PER_HOUR
    c_rate = drive.peak_A / capacity_Ah
    if drive.peak_A == 0.0:
        remedy = "The split never asks for it." if power_driven else "Check the column and its unit."
        return [
            Notice(
                "no_current",
                f"No current flows through the {source.kind} on the whole day (0 A rms): its life is that of a pack at "
                f"rest. {remedy}",
            )
        ]
    highest = HIGHEST_C_RATE[source.is_battery]
    if LOWEST_C_RATE <= c_rate <= highest:
        return []
    limit = f"above {highest:g} C" if c_rate > highest else f"below {LOWEST_C_RATE:g} C"
    return [
        Notice(
            "implausible_c_rate",
            f"The {source.kind} of {capacity_Ah:.3g} Ah has a peak current of {drive.peak_A:.3g} A ({c_rate:.3g} C) "
            f"and {drive.rms_A:.3g} A rms. A peak {limit} is more likely a wrong unit (W for kW, mA for A) or the data "
            "of another pack than a duty. Check the units of the history and the pack's cells in series and parallel.",
        )
    ]


def distance_notices(driven_km: float | None, stated_km: float | None) -> list[Notice]:
    """Warn where the speed of a demand gives another distance than the study states.

    Args:
        driven_km: Distance of a working day by the demand's own speed [km], >= 0; None without a speed.
        stated_km: The study's distance per working day [km], > 0; None where it states none.
    """
    if driven_km is None or stated_km is None or abs(driven_km - stated_km) <= DISTANCE_TOLERANCE * stated_km:
        return []
    return [
        Notice(
            "distance_differs_from_speed",
            f"The speed in the demand gives {driven_km:.3g} km per working day, and distance_km_per_day says "
            f"{stated_km:.3g} km: the cost per km follows the stated distance, the life the demand. Correct the "
            "distance, service.day.drive_repeats, or the unit of speed or time.",
        )
    ]
