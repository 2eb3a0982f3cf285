"""What every part of a result document shares: closed, frozen, and free of NaN and infinity."""

from collections.abc import Iterable
from typing import Literal

from pydantic import BaseModel, ConfigDict

from lifetime.checks import FloatArray
from lifetime.notices import Notice, Severity
from lifetime.text import short_numbers

Numbers = tuple[float, ...]
Table = tuple[tuple[float, ...], ...]
SourceKind = Literal["battery", "ultracapacitor"]
LifeState = Literal[
    "reached", "beyond_tested_loss", "beyond_search_limit", "not_limited_by_model", "requirement_not_met"
]
LifeBound = Literal["at_least", "at_most", "about"]


class View(BaseModel):
    """Base of every part of the document: unknown keys are errors, values never change, every number is finite."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


class Message(View):
    """One sentence that a result says about itself, under a short name that programs may rely on."""

    code: str
    message: str


def messages(notices: Iterable[Notice], severity: Severity) -> tuple[Message, ...]:
    """The notices of one severity.

    Args:
        notices: In the order in which they were given.
        severity: ``warning`` or ``note``.
    """
    return tuple(Message(code=one.code, message=one.message) for one in notices if one.severity == severity)


def rounded(values: FloatArray, digits: int) -> Numbers:
    """Numbers with as many digits as a picture can use.

    Args:
        values: Finite values, shape (n,).
        digits: Significant digits, 1 to 17.
    """
    return tuple(short_numbers(values, digits))
