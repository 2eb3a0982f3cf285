"""Drive modes by the sign of both sources' power: who drives, who is charged, who charges whom."""

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np
from numpy.typing import NDArray

from lifetime.checks import FloatArray

Mode = Literal["traction", "regeneration", "battery_to_ultracapacitor", "ultracapacitor_to_battery", "idle"]
MODES: Final[tuple[Mode, ...]] = (
    "traction",
    "regeneration",
    "battery_to_ultracapacitor",
    "ultracapacitor_to_battery",
    "idle",
)
"""In the order of their codes."""

DEAD_BAND: Final = 0.01
"""Share of the largest demand below which a source's power counts as none; common practice, no source."""


@dataclass(frozen=True, slots=True)
class ModeFigures:
    """What one source does in one mode over a day.

    Args:
        energy_out_J: Energy it delivers [J].
        energy_in_J: Energy it takes [J].
        throughput_As: Charge moved either way [As].
        rms_A: Quadratic mean of its current while the mode lasts [A].
        loss_J: Heat in its resistance [J].
    """

    energy_out_J: float
    energy_in_J: float
    throughput_As: float
    rms_A: float
    loss_J: float


def modes_of(battery_W: FloatArray, bank_W: FloatArray, dead_band_W: float) -> NDArray[np.intp]:
    """Code of the mode of each interval, as in ``MODES``.

    Args:
        battery_W: Battery power [W], shape (n,), positive when it discharges.
        bank_W: Bank power [W], shape (n,), positive when it discharges.
        dead_band_W: Power up to which a source counts as idle [W], >= 0.

    Returns:
        Codes, shape (n,). A source alone counts with traction or regeneration.

    Source:
        Modes of a drive with two inverters by the signs of both sources' power; common practice, no source.
    """
    battery = np.sign(np.where(np.abs(battery_W) > dead_band_W, battery_W, 0.0))
    bank = np.sign(np.where(np.abs(bank_W) > dead_band_W, bank_W, 0.0))
    codes = np.full(battery_W.size, MODES.index("idle"), dtype=np.intp)
    codes[(battery + bank > 0.0) & (battery * bank >= 0.0)] = MODES.index("traction")
    codes[(battery + bank < 0.0) & (battery * bank >= 0.0)] = MODES.index("regeneration")
    codes[(battery > 0.0) & (bank < 0.0)] = MODES.index("battery_to_ultracapacitor")
    codes[(battery < 0.0) & (bank > 0.0)] = MODES.index("ultracapacitor_to_battery")
    return codes


def transfer_W(battery_W: FloatArray, bank_W: FloatArray) -> FloatArray:
    """Power that one source gives the other [W], shape (n,); 0 where both work the same way.

    Args:
        battery_W: Battery power [W], shape (n,).
        bank_W: Bank power [W], shape (n,).
    """
    return np.where(battery_W * bank_W < 0.0, np.minimum(np.abs(battery_W), np.abs(bank_W)), 0.0)


def changes(codes: NDArray[np.intp]) -> int:
    """How often the mode changes.

    Args:
        codes: Of each interval.
    """
    return int(np.count_nonzero(np.diff(codes)))


def figures(
    among: NDArray[np.bool_], length_s: FloatArray, power_W: FloatArray, current_A: FloatArray, resistance_ohm: float
) -> ModeFigures:
    """What one source does while a mode lasts.

    Args:
        among: Which intervals belong to the mode, shape (n,).
        length_s: Length of each interval [s].
        power_W: The source's terminal power [W].
        current_A: Its current [A].
        resistance_ohm: Its resistance [Ω], >= 0.
    """
    length, power, current = length_s[among], power_W[among], current_A[among]
    lasted = float(length.sum())
    squared = float(np.sum(current * current * length))
    return ModeFigures(
        energy_out_J=float(np.sum(np.maximum(power, 0.0) * length)),
        energy_in_J=float(np.sum(np.maximum(-power, 0.0) * length)),
        throughput_As=float(np.sum(np.abs(current) * length)),
        rms_A=float(np.sqrt(squared / lasted)) if lasted > 0.0 else 0.0,
        loss_J=resistance_ohm * squared,
    )
