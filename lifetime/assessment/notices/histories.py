"""What is said about a strategy's histories: how values run between samples, and what reading and cleaning remarked."""

from collections.abc import Mapping
from typing import Final

from lifetime.history.model import History
from lifetime.history.spec import HistoryInput
from lifetime.notices import Notice

_SAME_START: Final = 0.01
"""Time between the starts of two histories, relative to their length, that is not worth a warning."""
_SAME_VOLTAGE: Final = 0.01
"""Relative difference between a stated and a measured start voltage that is not worth a warning."""


def start_voltage_notices(stated_V: float, measured_V: float) -> list[Notice]:
    """Warn where the bank's history begins at another voltage than the study says.

    Args:
        stated_V: ``ultracapacitor.start_voltage_V`` [V], > 0.
        measured_V: Capacitor voltage at the history's first sample [V].
    """
    if abs(measured_V - stated_V) <= _SAME_VOLTAGE * stated_V:
        return []
    return [
        Notice(
            "start_voltage_differs",
            f"The ultracapacitor bank's history begins at {measured_V:.4g} V (terminal voltage and drop in the "
            f"resistance), but ultracapacitor.start_voltage_V says {stated_V:.4g} V. The measured voltage is used.",
        )
    ]


def start_notices(battery: History, ultracapacitor: History) -> list[Notice]:
    """Warn where the two histories of a strategy begin at other times.

    Args:
        battery: The battery's history.
        ultracapacitor: The bank's history.
    """
    starts = [float(next(one.blocks()).time_s[0]) for one in (battery, ultracapacitor)]
    apart = abs(starts[0] - starts[1])
    if apart <= _SAME_START * battery.duration_s:
        return []
    return [
        Notice(
            "history_starts_differ",
            f"The histories of battery and ultracapacitor bank do not begin at the same time: their first times are "
            f"{apart:,.0f} s apart. Each is one pass from its own start; check that both are of the same trip.",
        )
    ]


def history_notices(inputs: Mapping[str, HistoryInput], histories: Mapping[HistoryInput, History]) -> list[Notice]:
    """Note how each history was read.

    Args:
        inputs: The strategy's histories by key.
        histories: Every history of the study by its input.
    """
    notices = []
    for key, spec in inputs.items():
        history = histories[spec]
        between = "linear" if history.interpolation == "linear" else "zero-order hold"
        notices.append(
            Notice(
                "interpolation",
                f"{key}: {between} between the {history.samples} samples of {history.label}; positive means "
                f"discharge after reading (discharge_is = {spec.discharge_is}).",
                "note",
            )
        )
        notices.extend(history.notices)
    return notices
