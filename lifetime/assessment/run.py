"""Assess a study: every strategy by itself, then all of them together."""

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace

from lifetime.assessment.costing import priced_anew
from lifetime.assessment.fingerprint import fingerprint, input_hashes
from lifetime.assessment.levers import levers
from lifetime.assessment.notices.converters import unlike_losses_notices
from lifetime.assessment.notices.study_numbers import study_notices
from lifetime.assessment.ranked import ranking
from lifetime.assessment.reference_splits import with_references
from lifetime.assessment.resolution import resolve_setups
from lifetime.assessment.setups import StudySetup
from lifetime.assessment.strategy import StrategyWithSplit, assess_strategy
from lifetime.costing.ranking import residual_notices
from lifetime.errors import AssessmentError
from lifetime.results.records import Assessment, StrategyResult
from lifetime.study.load import LoadedStudy
from lifetime.version import program_version


def assess(
    loaded: LoadedStudy,
    progress: Callable[[str], None] | None = None,
    *,
    in_detail: bool = True,
    known: Mapping[str, StrategyResult] | None = None,
) -> Assessment:
    """Assess every strategy of a study and rank them.

    Args:
        loaded: The study with everything it names.
        progress: Called with each strategy's name as it is finished.
        in_detail: Also compare with the reference splits, lay the ageing over the day, and see what other levers would
            buy; a sweep does without.
        known: Results by strategy of a study that differs only in what these do not feel (prices, other strategies):
            they are only priced anew. Of use without detail only.

    Raises:
        AssessmentError: A day does not fit into 24 h, or an iteration does not settle.
    """
    shared = resolve_setups(loaded)
    strategies = []
    for strategy in loaded.study.strategy:
        variant = loaded.variants.get(strategy.name)
        setup = shared if variant is None else resolve_setups(variant)
        before = None if known is None else known.get(strategy.name)
        with _named(strategy.name):
            strategies.append(
                assess_strategy(setup, strategy, in_detail=in_detail)
                if before is None
                else StrategyWithSplit(setup, priced_anew(setup, before))
            )
        if progress is not None:
            progress(strategy.name)
    result = _assessment(shared, with_references(strategies))
    best = result.strategies[0]
    if not in_detail or best.rank is None:
        return result
    return replace(result, levers=levers(loaded, best))


@contextmanager
def _named(strategy: str) -> Iterator[None]:
    """Say of which strategy an error is."""
    try:
        yield
    except AssessmentError as error:
        raise type(error)(f'Strategy "{strategy}": {error}') from error


def _assessment(setup: StudySetup, results: list[StrategyResult]) -> Assessment:
    """Rank the strategies, and say whether the study's numbers suit each other and what decides the order."""
    loaded = setup.loaded
    cost = loaded.study.cost
    ranked = ranking(results, cost)
    by_residual = {
        one.name: one.life_cycle_cost.net_present_cost_by_residual
        for one in ranked.strategies
        if one.rank is not None and one.life_cycle_cost is not None
    }
    return Assessment(
        id=fingerprint(loaded),
        program_version=program_version(),
        strategies=ranked.strategies,
        inputs=input_hashes(loaded),
        loaded=loaded,
        notices=(
            *study_notices(setup),
            *unlike_losses_notices(loaded.study.strategy),
            *ranked.notices,
            *residual_notices(by_residual, cost.residual_value),
        ),
    )
