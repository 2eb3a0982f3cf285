"""Which strategies are ranked together, in which order, and why the others are not."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from lifetime.assessment.notices.curtailment import friction_words, unserved_words
from lifetime.costing.equal_duty import KEY, check_duties, ranked_all_the_same
from lifetime.costing.life_cycle import NoLifeCycleCost
from lifetime.costing.ranking import order, rank
from lifetime.notices import Notice
from lifetime.results.records import StrategyResult
from lifetime.study.evaluation import Cost


@dataclass(frozen=True, slots=True)
class Ranking:
    """The strategies of a study in the order of rank.

    Args:
        strategies: With rank, or with the reason why there is none.
        notices: What there is to say about the comparison.
    """

    strategies: tuple[StrategyResult, ...]
    notices: tuple[Notice, ...]


def ranking(results: Sequence[StrategyResult], cost: Cost) -> Ranking:
    """Rank strategies by net present cost, those only that do the same work within their limits.

    Args:
        results: Of every strategy, in the study's order.
        cost: The study's section on cost.
    """
    reasons = {one.name: reason for one in results if (reason := _own_reason(one, cost)) is not None}
    check = check_duties([one.trip for one in results if one.name not in reasons])
    notices = list(check.notices)
    if cost.rank_unequal_duty:
        notices += ranked_all_the_same(check.unequal)
    else:
        reasons |= {name: f"{why}. Give all strategies one duty, or set {KEY}" for name, why in check.unequal.items()}
    costs = [_cost(one, reasons) for one in results]
    ranked = [
        replace(one, rank=place, not_ranked_reason=reasons.get(one.name))
        for one, place in zip(results, rank(costs), strict=True)
    ]
    return Ranking(tuple(ranked[place] for place in order(costs)), tuple(notices))


def _own_reason(one: StrategyResult, cost: Cost) -> str | None:
    """Why a strategy is not ranked, whatever the others do."""
    new = one.feasibility[0] if one.feasibility else None
    if isinstance(one.cost, NoLifeCycleCost):
        if new is None or new.serves_power:
            return one.cost.reason
        return f"{one.cost.reason}: {unserved_words(new)}"
    if one.breaks_limit:
        return "a source breaks a limit of voltage or current at the beginning of life"
    if new is not None and not new.takes_braking and cost.electricity_per_kWh == 0.0:
        return f"{friction_words(new)}, and without cost.electricity_per_kWh nothing is paid for it"
    return None


def _cost(one: StrategyResult, reasons: Mapping[str, str]) -> float | None:
    cost = one.life_cycle_cost
    return None if cost is None or one.name in reasons else cost.net_present_cost
