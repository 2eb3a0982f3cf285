"""What is said about tracing a source's day at end of life."""

from lifetime.errors import AssessmentError
from lifetime.notices import Notice
from lifetime.packs.profile import Kind

_WORTH_SAYING = 0.01
"""Relative rise of the battery's rms power below which nothing is said."""


def trace_failed(kind: Kind, error: AssessmentError) -> Notice:
    """A power-driven day that could not be traced at end of life.

    Args:
        kind: Which source.
        error: Why not.
    """
    return Notice(
        "worn_trace_failed",
        f"The day could not be traced for the {kind} at its end of life ({error}) Its currents at the beginning of "
        "life are used all its life.",
    )


def load_at_end_of_life(new_rms_W: float, worn_rms_W: float) -> list[Notice]:
    """How much more a worn bank leaves to the battery, whose own life is judged with the bank as new.

    Args:
        new_rms_W: Quadratic mean of the battery's power with the bank at its beginning of life [W], >= 0.
        worn_rms_W: The same with the bank at its end of life [W], >= 0.
    """
    if worn_rms_W <= new_rms_W * (1.0 + _WORTH_SAYING):
        return []
    return [
        Notice(
            "battery_load_with_worn_bank",
            f"With the ultracapacitor bank at its end of life, the battery's rms power is "
            f"{100 * (worn_rms_W / new_rms_W - 1.0):.1f} % higher than with the bank at its beginning of life; the "
            "battery's life is judged with the latter.",
        )
    ]
