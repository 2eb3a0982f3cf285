"""What is said where even a new source does not meet its requirement, or its bounds do not fit the measured day."""

from collections.abc import Iterable

from lifetime.notices import Notice
from lifetime.packs.profile import Kind


def not_met_within_bounds(kind: Kind, bounds: Iterable[str]) -> Notice:
    """The day takes a new source beyond its bounds.

    Args:
        kind: Which source.
        bounds: The bounds it exceeds.
    """
    return Notice(
        "cannot_deliver_when_new",
        f"Requirement not met at the beginning of life: on this day even the new {kind} exceeds its bound of "
        f"{', '.join(sorted(bounds))}. Use a larger pack, fewer drive repeats, another start, or a split that asks "
        "less of it.",
    )


def not_met_at_any_current(kind: Kind, shortage_fraction: float) -> Notice:
    """The power asked for exceeds what a new source can deliver at all.

    Args:
        kind: Which source.
        shortage_fraction: By how much, relative to the most it can deliver [1], > 0.
    """
    return Notice(
        "cannot_deliver_when_new",
        f"Requirement not met at the beginning of life: the power asked of the new {kind} exceeds the most it can "
        "deliver at any current (open-circuit voltage squared over four times its resistance) by "
        f"{100.0 * shortage_fraction:.0f} %. Use a larger pack or a split that asks less of it, and check "
        "resistance_ohm.",
    )


def bound_not_used(kind: Kind, bounds: Iterable[str]) -> Notice:
    """A measured current shows that the source delivered; then our resistance or curve does not fit.

    Args:
        kind: Which source.
        bounds: The bounds that it would exceed.
    """
    return Notice(
        "voltage_bound_exceeded_when_new",
        f"With this parameter set the new {kind} would exceed its {', '.join(sorted(bounds))} on the given currents. "
        "As they were measured or simulated, this bound is not used to end its life; check resistance_ohm and "
        "open_circuit.",
    )
