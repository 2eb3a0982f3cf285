"""What to do where time runs backwards, in words."""

from dataclasses import dataclass
from typing import Final

_PUT_BACK_S: Final = (1800.0, 3601.0)
"""A clock put back by an hour loses that less the step between two rows."""

_NEAR: Final = 10.0
"""Rows written in the wrong order are this many median steps apart at most; a clock that starts anew is as near to the
first time of the file. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class StepBack:
    """The first step back in time of a file.

    Args:
        back_s: By how much [s], > 0.
        since_first_s: Time after the step, from the first time of the file [s].
        median_s: Median step [s]; 0 where it is not known.
    """

    back_s: float
    since_first_s: float
    median_s: float

    @property
    def is_restart(self) -> bool:
        """True where the clock starts anew near the file's first time, after a stretch worth the name."""
        near_s = _NEAR * self.median_s
        return self.back_s > near_s > 0.0 and abs(self.since_first_s) <= near_s

    @property
    def is_out_of_order(self) -> bool:
        """True where rows of one stretch stand in the wrong order."""
        return not self.is_restart and self.back_s <= _NEAR * self.median_s


def backward_remedy(step: StepBack, *, between_files: bool, is_local: bool) -> str:
    """What to do where time runs backwards.

    Args:
        step: The first step back.
        between_files: True where it goes back from one file to the next.
        is_local: True for times of day or dates of a zone that nobody has stated.
    """
    if between_files:
        return (
            'If each file starts its clock anew, state files_follow = "one_after_another"; clean = ["sort_by_time"] '
            "would mix the rows of different files."
        )
    both = (
        'If rows are out of order, ask for clean = ["sort_by_time"]; if the clock was set to zero there, ask for '
        'clean = ["join_restarts"]; the charge depends on which.'
    )
    if is_local and _PUT_BACK_S[0] < step.back_s < _PUT_BACK_S[1]:
        return f'If clocks were put back for winter there, state time_zone, for example "Europe/Berlin". {both}'
    if step.is_restart:
        return (
            'The clock starts anew there: ask for clean = ["join_restarts"]. clean = ["sort_by_time"] would mix the '
            "rows of both stretches, and change the charge."
        )
    if step.is_out_of_order:
        return (
            'Rows are out of order: ask for clean = ["sort_by_time"]. clean = ["join_restarts"] would count their time '
            "twice, and change the charge."
        )
    return both
