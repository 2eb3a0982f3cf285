"""The range a law was fitted on, and the notices for stress that leaves it."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from lifetime.ageing.contract import Stress
from lifetime.checks import FloatArray
from lifetime.constants import ZERO_CELSIUS_K
from lifetime.notices import Notice

Range = tuple[float, float]
BoolArray = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Validity:
    """The ranges a law was fitted on; None where the source gives none or the law does not see the quantity.

    Args:
        temperature_K: Temperature over time [K].
        cycle_temperature_K: Temperature over throughput [K].
        soc: State of charge over time [0..1].
        voltage_V: Open-circuit voltage over time [V].
        depth: Cycle depth over throughput [0..1].
        c_rate: Cycle C-rate over throughput [1/h].
        charge_c_rate: Charging C-rate over throughput [1/h].
    """

    temperature_K: Range | None = None
    cycle_temperature_K: Range | None = None
    soc: Range | None = None
    voltage_V: Range | None = None
    depth: Range | None = None
    c_rate: Range | None = None
    charge_c_rate: Range | None = None


class _Quantity(NamedTuple):
    field: str
    words: str
    weight: str
    weight_words: str
    unit: str
    offset: float
    scale: float


# What is compared, how a person says it, and what it is weighed by.
_QUANTITIES = (
    _Quantity("temperature_K", "temperature", "duration_s", "time", "°C", -ZERO_CELSIUS_K, 1.0),
    _Quantity("cycle_temperature_K", "cycling temperature", "throughput_fec", "throughput", "°C", -ZERO_CELSIUS_K, 1.0),
    _Quantity("soc", "state of charge", "duration_s", "time", "%", 0.0, 100.0),
    _Quantity("voltage_V", "voltage", "duration_s", "time", "V", 0.0, 1.0),
    _Quantity("depth", "cycle depth", "throughput_fec", "throughput", "%", 0.0, 100.0),
    _Quantity("c_rate", "C-rate", "throughput_fec", "throughput", "C", 0.0, 1.0),
    _Quantity("charge_c_rate", "charging C-rate", "throughput_fec", "throughput", "C", 0.0, 1.0),
)

# A value that misses a bound by less than anybody can read off a measurement is not outside: 0.06 K of 60 K.
_SLACK = 1e-3


def share_where(outside: BoolArray, weight: FloatArray) -> float:
    """Share of the weight that falls where ``outside`` is true.

    Args:
        outside: Boolean array over bins or classes, with or without leading conditions.
        weight: Time [s] or throughput [FEC], >= 0; broadcasts against ``outside``.

    Returns:
        Share in [0..1]; 0 where there is no weight at all.
    """
    shape = np.broadcast_shapes(outside.shape, weight.shape)
    spread = np.broadcast_to(weight, shape)
    total = float(np.sum(spread))
    return float(np.sum(spread, where=np.broadcast_to(outside, shape))) / total if total > 0.0 else 0.0


def percent(share: float) -> str:
    """Write a share [0..1] as a percentage that can begin a sentence; a small share never reads as zero."""
    return "Less than 0.1 %" if share < 1e-3 else f"{100.0 * share:.3g} %"


def share_inside(stress: Stress, validity: Validity) -> float:
    """Share of a block inside a law's fitted range in every quantity [0..1]: the smaller of time's and throughput's.

    Args:
        stress: The block.
        validity: The law's ranges.
    """
    smallest = 1.0
    for weight_name in ("duration_s", "throughput_fec"):
        weight: FloatArray = getattr(stress, weight_name)
        outside: BoolArray = np.zeros(weight.shape, dtype=np.bool_)
        for quantity in _QUANTITIES:
            bounds: Range | None = getattr(validity, quantity.field)
            if quantity.weight == weight_name and bounds is not None:
                values: FloatArray = getattr(stress, quantity.field)
                slack = _SLACK * (bounds[1] - bounds[0])
                outside = outside | (values < bounds[0] - slack) | (values > bounds[1] + slack)
        smallest = min(smallest, 1.0 - share_where(outside, weight))
    return smallest


def outside_notices(stress: Stress, validity: Validity, consequences: Mapping[str, str | None]) -> list[Notice]:
    """List what in a block lies outside a law's fitted range, with its share of time or throughput.

    Args:
        stress: The block.
        validity: The law's ranges.
        consequences: By notice code, what the law does there, as half a sentence; None where the law itself has a
            better notice. Without an entry the law is extrapolated.

    Returns:
        One notice per quantity and side that is outside for a share above zero.
    """
    notices = []
    for quantity in _QUANTITIES:
        bounds: Range | None = getattr(validity, quantity.field)
        if bounds is None:
            continue
        values: FloatArray = getattr(stress, quantity.field)
        weight: FloatArray = getattr(stress, quantity.weight)
        name = quantity.field.removesuffix("_K").removesuffix("_V")
        slack = _SLACK * (bounds[1] - bounds[0])
        for side, bound, outside in (
            ("below", bounds[0], values < bounds[0] - slack),
            ("above", bounds[1], values > bounds[1] + slack),
        ):
            code = f"{name}_{side}_range"
            then = consequences.get(code, "the model is extrapolated there.")
            share = share_where(outside, weight) if then is not None and outside.any() else 0.0
            if share > 0.0:
                shown = (bound + quantity.offset) * quantity.scale
                message = (
                    f"{percent(share)} of the {quantity.weight_words} has a {quantity.words} {side} the model's fitted "
                    f"range ({shown:.4g} {quantity.unit}); {then}"
                )
                notices.append(Notice(code, message))
    return notices
