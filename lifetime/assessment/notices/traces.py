"""What is said about tracing a source's day at end of life, its own or that of the bank beside it."""

from lifetime.errors import AssessmentError
from lifetime.notices import Notice
from lifetime.packs.profile import Kind


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


def not_traced_beside_worn_bank(reason: str) -> Notice:
    """A battery's day that could not be traced beside the worn bank.

    Args:
        reason: Why not, as a sentence.
    """
    return Notice(
        "aged_bank_trace_failed",
        f"The battery's day could not be traced with the ultracapacitor bank aged ({reason}) The battery's life is "
        "judged with the bank as new.",
    )
