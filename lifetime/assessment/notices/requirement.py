"""What is said where even a new source does not meet its requirement, or its bounds do not fit the measured day."""

from collections.abc import Iterable, Mapping

from lifetime.assessment.notices.curtailment import unserved_words
from lifetime.notices import Notice
from lifetime.packs.profile import Kind
from lifetime.projection.power_corner import PowerMargin
from lifetime.results.feasibility import Feasibility
from lifetime.stress.current_watch import Excess
from lifetime.text import percent, significant


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


def bound_not_used(kind: Kind, bounds: Mapping[str, float]) -> Notice:
    """A given current takes the new source beyond a voltage bound: a limit broken, whatever the reason.

    Args:
        kind: Which source.
        bounds: The bounds that it exceeds, with by how much [V].
    """
    passed = ", ".join(f"{bound} by {significant(volts)} V" for bound, volts in sorted(bounds.items()))
    return Notice(
        "voltage_bound_exceeded_when_new",
        f"Limit broken at the beginning of life: with this parameter set the new {kind} exceeds its {passed} on the "
        "given currents. The strategy keeps its figures and has no rank, because no strategy may gain by breaking a "
        "limit. Its life is that of the other criteria. If the currents were measured, correct resistance_ohm, "
        "open_circuit or the voltage limits.",
    )


def current_limit_passed(kind: Kind, excess: Excess) -> Notice:
    """A given current is above the maker's limit.

    Args:
        kind: Which source.
        excess: The largest excess over one limit.
    """
    how = f"mean over {significant(excess.window_s)} s" if excess.window_s else "current"
    if excess.limit_A > 0.0:
        by = f"above its limit of {significant(excess.limit_A)} A by {percent(excess.current_A / excess.limit_A - 1.0)}"
    else:
        by = "where none is allowed"
    return Notice(
        "current_limit_exceeded_when_new",
        f"Limit broken at the beginning of life: the largest {excess.way} {how} of the {kind} is "
        f"{significant(excess.current_A)} A, {by}, {significant(excess.at_s)} s into the day. The strategy keeps its "
        "figures and has no rank. Use more cells in parallel, or correct maximum_current_A in a parameter set of your "
        "own or battery.limits.",
    )


def power_not_met(kind: Kind, feasible: Feasibility) -> Notice:
    """A demand that a new source does not serve within its limits.

    Args:
        kind: Which source.
        feasible: What it serves.
    """
    return Notice(
        "cannot_deliver_when_new",
        f"Requirement not met at the beginning of life: within its limits of voltage, current and power the new {kind} "
        f"leaves {unserved_words(feasible)}. Use a larger pack or a split that asks less of it.",
    )


def power_not_met_in_corner(margin: PowerMargin) -> Notice:
    """A new battery does not give its strategy's power in the corner that the study names.

    Args:
        margin: What it gives and what is asked.
    """
    required, available = (significant(power / 1000.0) for power in (margin.required_W, margin.available_W))
    return Notice(
        "power_not_met_when_new",
        f"Power not met at the beginning of life: for {margin.corner.words} the strategy asks {required} kW of the "
        f"battery, and even a new one gives {available} kW ({percent(margin.available_W / margin.required_W)}). Use a "
        "larger pack or another cell, heat the battery, keep it fuller, or use a split that takes more of the peak.",
    )
