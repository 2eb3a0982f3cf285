"""The four conventions of counting, and whether the order of strategies depends on them.

No test settles how much a small cycle ages a cell, nor which C-rate stands for a driven one: short pulses were not
found worse than the mean current that contains them, and motorway duty shows that the bound can be crossed. Both bounds
of both are computed, and where an order hangs on them the result says so.
"""

from collections.abc import Sequence
from itertools import combinations
from typing import Final, Literal, NamedTuple

from lifetime.costing.ranking import TIE
from lifetime.results.convention_outcome import ConventionOutcome
from lifetime.results.view import View
from lifetime.stress.counting import CycleRate, SmallCycles

CONVENTIONS: Final[tuple[tuple[SmallCycles, CycleRate], ...]] = (
    ("all", "throughput_weighted"),
    ("all", "time_mean"),
    ("none", "throughput_weighted"),
    ("none", "time_mean"),
)
"""Small cycles counted or not, by the C-rate of a cycle."""
SAME: Final = 1e-3
"""Relative difference of life or cost up to which two strategies are equal: less than is shown."""

TOLD_APART: Final = 0.01
"""Relative difference of battery life up to which no ageing model tells two strategies apart (own rule)."""

Measure = Literal["battery_life", "cost"]


class ConventionView(View):
    """Battery life and net present cost under one convention; a null life lies beyond the search limit."""

    small_cycles: SmallCycles
    cycle_rate: CycleRate
    battery_life_years: float | None
    net_present_cost: float | None

    @classmethod
    def of(cls, outcome: ConventionOutcome) -> "ConventionView":
        """The outcome as it is told.

        Args:
            outcome: Of the record.
        """
        return cls(
            small_cycles=outcome.small_cycles,
            cycle_rate=outcome.cycle_rate,
            battery_life_years=outcome.battery_life_years,
            net_present_cost=outcome.net_present_cost,
        )


class Swap(View):
    """Two strategies whose order is one way under some conventions and the other way under others."""

    measure: Measure
    strategies: tuple[str, str]


class Indistinct(View):
    """Two strategies whose battery lives the ageing model cannot tell apart, and why.

    ``equal``: they differ by 1 % or less. ``held``: which of them is better, or whether one is, hangs on where the
    model is held at an end of its fitted range; the lives without that limit are given, null beyond the search limit.
    """

    reason: Literal["equal", "held"]
    strategies: tuple[str, str]
    lives_without_limits_years: tuple[float | None, float | None] | None


class ConventionOrder(View):
    """Whether the order of the strategies depends on the convention, and which of them no model tells apart."""

    same_order: bool
    swaps: tuple[Swap, ...]
    indistinct: tuple[Indistinct, ...]


class NamedOutcomes(NamedTuple):
    """A strategy under the study's own convention, under each of the four in one order, and without the model's limits.

    The last is the first where the model is held nowhere.
    """

    name: str
    own: ConventionView
    outcomes: tuple[ConventionView, ...]
    without_limits: ConventionView


def convention_order(strategies: Sequence[NamedOutcomes]) -> ConventionOrder:
    """Compare every two strategies under every convention.

    Args:
        strategies: Those with outcomes, each under the same conventions.
    """
    swaps = [
        Swap(measure=measure, strategies=(one.name, other.name))
        for measure in ("battery_life", "cost")
        for one, other in combinations(strategies, 2)
        if _swap(
            # Ranks tell apart whatever differs, so the study's own order counts however small the difference.
            _ahead(measure, one.own, other.own, TIE),
            [_ahead(measure, *pair, SAME) for pair in zip(one.outcomes, other.outcomes, strict=True)],
        )
    ]
    pairs = (_indistinct(one, other) for one, other in combinations(strategies, 2))
    return ConventionOrder(
        same_order=not swaps, swaps=tuple(swaps), indistinct=tuple(pair for pair in pairs if pair is not None)
    )


def _indistinct(one: NamedOutcomes, other: NamedOutcomes) -> Indistinct | None:
    names = (one.name, other.name)
    own = _ahead("battery_life", one.own, other.own, TOLD_APART)
    free = _ahead("battery_life", one.without_limits, other.without_limits, TOLD_APART)
    if own != free:
        lives = (one.without_limits.battery_life_years, other.without_limits.battery_life_years)
        return Indistinct(reason="held", strategies=names, lives_without_limits_years=lives)
    # Two lives beyond the search limit may differ by anything.
    unknown = one.own.battery_life_years is None and other.own.battery_life_years is None
    return None if own or unknown else Indistinct(reason="equal", strategies=names, lives_without_limits_years=None)


def _swap(own: int, signs: Sequence[int]) -> bool:
    return {1, -1} <= {own, *signs}


def _ahead(measure: Measure, one: ConventionView, other: ConventionView, same: float) -> int:
    """1 where the first is better, -1 where the second is, 0 where both are equal or one has no number."""
    if measure == "cost":
        return _larger(other.net_present_cost, one.net_present_cost, same)
    lives = (one.battery_life_years, other.battery_life_years)
    if lives[0] is None or lives[1] is None:
        return (lives[0] is None) - (lives[1] is None)
    return _larger(*lives, same)


def _larger(one: float | None, other: float | None, same: float) -> int:
    if one is None or other is None or abs(one - other) <= same * max(abs(one), abs(other)):
        return 0
    return 1 if one > other else -1
