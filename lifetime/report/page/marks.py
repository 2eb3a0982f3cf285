"""What is marked in a ranking: what is not ranked or not told apart, leaves braking to the brakes, or fails later."""

from collections.abc import Mapping
from typing import Final

from lifetime.report.page.conventions import indistinct_names
from lifetime.results.cost import NoCost
from lifetime.results.document import ResultDocument
from lifetime.results.feasibility import TOLERATED, Condition, FeasibilityView
from lifetime.results.strategy import StrategyView
from lifetime.text import percent, printable, significant

NOT_APART: Final = "*"
NOT_RANKED: Final = "†"
FRICTION: Final = "‡"
UNMET_LATER: Final = "§"
_LATER: Final[Mapping[Condition, str]] = {
    "beginning_of_life": "at the beginning of life",
    "end_of_life": "at the end of life",
    "coldest_month": "in the coldest month",
}
_MOST_NAMED: Final = 4
"""Strategies that one line names; more are counted."""


def marks(document: ResultDocument) -> Mapping[str, str]:
    """The marks beside each strategy's rank, by its name.

    Args:
        document: The result document.
    """
    alike = indistinct_names(document)
    return {
        one.name: "".join(
            mark
            for mark, is_so in (
                (NOT_APART, one.name in alike),
                (NOT_RANKED, one.rank is None),
                (FRICTION, _to_friction(one) is not None),
                (UNMET_LATER, bool(_unmet(one))),
            )
            if is_so
        )
        for one in document.strategies
    }


def apart_words(document: ResultDocument) -> Mapping[str, str]:
    """By name of each strategy that the ageing model cannot tell from others by battery life, the ranks of these.

    Args:
        document: The result document.
    """
    order = document.convention_order
    pairs = () if order is None else tuple(one.strategies for one in order.indistinct)
    called = {
        one.name: f"“{printable(one.name)}”" if one.rank is None else str(one.rank) for one in document.strategies
    }
    words = {}
    for name in indistinct_names(document):
        beside = [pair[1] if pair[0] == name else pair[0] for pair in pairs if name in pair]
        # Strategies stand in the order of rank, and so do those that are named.
        others = [called[one.name] for one in document.strategies if one.name in beside]
        more = [f"{len(others) - _MOST_NAMED} more"] if len(others) > _MOST_NAMED else []
        if others:
            words[name] = _listed(others[:_MOST_NAMED] + more)
    return words


def mark_sentences(document: ResultDocument) -> list[str]:
    """What dagger, double dagger and section sign stand for.

    Args:
        document: The result document.
    """
    by_reason: dict[str, list[str]] = {}
    for one in document.strategies:
        if one.rank is None:
            by_reason.setdefault(not_ranked_reason(one), []).append(f"“{printable(one.name)}”")
    sentences = [f"{NOT_RANKED} Not ranked: {_listed(names)}; {reason}." for reason, names in by_reason.items()]
    for one in document.strategies:
        new = _to_friction(one)
        if new is not None:
            sentences.append(f"{FRICTION} “{printable(one.name)}” leaves {_braking(new)}; it is bought again.")
        conditions = [f"{_LATER[unmet.condition]}{_missing(unmet)}" for unmet in _unmet(one)]
        if conditions:
            sentences.append(
                f"{UNMET_LATER} “{printable(one.name)}” does not meet its requirement {_listed(conditions)}."
            )
    return sentences


def not_ranked_reason(one: StrategyView) -> str:
    """Why a strategy has no rank, as a clause; older results do not say it themselves.

    Args:
        one: A strategy without a rank.
    """
    if one.not_ranked_reason is not None:
        return printable(one.not_ranked_reason)
    if isinstance(one.cost, NoCost):
        return printable(one.cost.reason)
    return "a source breaks a limit of voltage or current at the beginning of life"


def _to_friction(one: StrategyView) -> FeasibilityView | None:
    """What a new drive leaves to the friction brakes, where a ranked strategy does more of it than is tolerated."""
    if one.rank is None or not one.feasibility:
        return None
    new = one.feasibility[0]
    return new if new.friction_kWh > TOLERATED * new.traction_kWh else None


def _braking(one: FeasibilityView) -> str:
    share = f" ({percent(one.friction_kWh / one.traction_kWh)} of the traction)" if one.traction_kWh > 0.0 else ""
    return f"{significant(one.friction_kWh)} kWh of braking per day{share} to the friction brakes"


def _unmet(one: StrategyView) -> list[FeasibilityView]:
    """Conditions in which a ranked strategy does not serve its demand; its rank goes by a new drive in a mean year."""
    return [] if one.rank is None else [condition for condition in one.feasibility if not condition.is_met]


def _missing(one: FeasibilityView) -> str:
    """The traction that is missing, in brackets; nothing where it is the window's energy that does not do."""
    return f" ({significant(one.unserved_kWh)} kWh of traction per day unserved)" if one.unserved_kWh > 0.0 else ""


def _listed(words: list[str]) -> str:
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"
