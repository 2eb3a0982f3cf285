"""What a result has to say about itself: typed notices instead of silent clipping."""

from dataclasses import dataclass
from typing import Literal

Severity = Literal["note", "warning"]


@dataclass(frozen=True, slots=True)
class Notice:
    """One remark that travels with a result.

    Args:
        code: Stable short name in lower_snake_case, for programs and tests.
        message: One or two plain sentences: which quantity, its value, the range or rule, what follows.
        severity: ``note`` for a stated assumption, ``warning`` for something that weakens the result.
    """

    code: str
    message: str
    severity: Severity = "warning"
