"""The result document: what is stored, sent and shown of an assessment, and the one thing that pages and report read.

Strict JSON: no NaN, no infinity; null where there is no number, with the state or the reason beside it. Its schema is
``ResultDocument.model_json_schema()``.
"""

from dataclasses import asdict
from typing import Final, Literal, Self

from lifetime.results.conventions import ConventionOrder, NamedOutcomes, convention_order
from lifetime.results.records import Assessment, Lever
from lifetime.results.strategy import StrategyView
from lifetime.results.study import StudyView
from lifetime.results.view import Message, View, messages

SCHEMA_VERSION: Final = 2
"""Raised whenever a key changes its meaning or goes away; ``upgrade`` reads the older ones."""


class LeverView(View):
    """The best strategy with one thing changed that is no split; null beyond the search limit, or without a cost."""

    words: str
    battery_life_years: float | None
    net_present_cost: float | None

    @classmethod
    def of(cls, lever: Lever) -> Self:
        """The lever as it is told.

        Args:
            lever: Of the record.
        """
        return cls(**asdict(lever))


class ResultDocument(View):
    """An assessment as one document, strategies in the order of rank, those without a cost last.

    Older results have no levers.
    """

    schema_version: Literal[2] = SCHEMA_VERSION
    study: StudyView
    strategies: tuple[StrategyView, ...]
    levers: tuple[LeverView, ...] = ()
    warnings: tuple[Message, ...]
    notes: tuple[Message, ...]
    convention_order: ConventionOrder | None = None

    @classmethod
    def of(cls, assessment: Assessment) -> Self:
        """The document of a fresh assessment.

        Args:
            assessment: What ``assess`` returned, in detail.
        """
        strategies = tuple(StrategyView.of(assessment, one) for one in assessment.strategies)
        return cls(
            study=StudyView.of(assessment),
            strategies=strategies,
            levers=tuple(LeverView.of(one) for one in assessment.levers),
            warnings=messages(assessment.notices, "warning"),
            notes=messages(assessment.notices, "note"),
            convention_order=_convention_order(assessment, strategies),
        )

    def to_json(self) -> str:
        """The document as text, keys in a fixed order."""
        return self.model_dump_json(indent=2)


def _convention_order(assessment: Assessment, strategies: tuple[StrategyView, ...]) -> ConventionOrder | None:
    """Whether the order hangs on a convention; None where there are not two strategies to put in order."""
    counting = assessment.loaded.study.counting
    known = [
        NamedOutcomes(one.name, own, one.conventions, one.without_model_limits or own)
        for one, own in ((one, one.outcome(counting.small_cycles, counting.cycle_rate)) for one in strategies)
        # What is not ranked with the others stands in no order with them.
        if one.conventions is not None and one.rank is not None
    ]
    return convention_order(known) if len(known) > 1 else None
