"""What a finding of the data checks is: severity, place, message, number, remedy."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final, Literal

FindingSeverity = Literal["error", "warning", "note"]
_ORDER: Final = ("error", "warning", "note")


@dataclass(frozen=True, slots=True)
class Finding:
    """One finding of the data checks of a file.

    Args:
        severity: ``error`` stops a study from reading the file as it is.
        place: Row or column or both, in words; "file" for the whole.
        message: What was found.
        number: The number that goes with it, a count or a value; None where there is none.
        remedy: What to do; empty where there is nothing to do.
    """

    severity: FindingSeverity
    place: str
    message: str
    number: float | None
    remedy: str


def by_severity(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    """Order findings by severity, errors first, otherwise as given.

    Args:
        findings: In any order.
    """
    return tuple(sorted(findings, key=lambda finding: _ORDER.index(finding.severity)))
