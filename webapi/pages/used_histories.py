"""The histories that a strategy read, with a link where they are stored here."""

from dataclasses import dataclass

from flask import url_for

from lifetime.results.document import ResultDocument
from lifetime.results.strategy import StrategyView
from lifetime.text import printable
from webapi.context import context
from webapi.errors import NotFoundError
from webapi.services import histories

_ROLES = {"demand": "demand", "battery": "battery", "ultracapacitor": "ultracapacitor bank"}


@dataclass(frozen=True, slots=True)
class UsedHistory:
    """One history as text.

    Args:
        name: As the user gave it.
        use: What the strategy reads it as.
        samples: How many.
        duration: From the first to the last sample.
        sha256: Of its content.
        link: Address of its page; empty where it is not stored here.
    """

    name: str
    use: str
    samples: str
    duration: str
    sha256: str
    link: str


def used_histories(document: ResultDocument, strategy: StrategyView) -> list[UsedHistory]:
    """The histories that a strategy read.

    Args:
        document: The result document.
        strategy: One of its strategies.
    """
    found = [(use.role, document.study.histories[use.position]) for use in strategy.histories]
    return [
        UsedHistory(
            name=printable(one.name),
            use=_ROLES[role],
            samples=f"{one.samples:,}",
            duration=f"{one.duration_s:,.0f} s",
            sha256=one.sha256,
            link=_link(one.sha256),
        )
        for role, one in found
    ]


def _link(key: str) -> str:
    with context().factory() as session:
        try:
            histories.get(session, key)
        except NotFoundError:
            return ""
    return url_for("pages.history", key=key)
