"""What to do where time runs backwards, in words."""

from typing import Final

_PUT_BACK_S: Final = (1800.0, 3601.0)
"""A clock put back by an hour loses that less the step between two rows."""


def backward_remedy(*, back_s: float, between_files: bool, is_local: bool) -> str:
    """What to do where time runs backwards.

    Args:
        back_s: By how much [s].
        between_files: True where it does from one file to the next.
        is_local: True for times of day or dates of a zone that nobody has stated.
    """
    if between_files:
        return (
            'If each file starts its clock anew, state files_follow = "one_after_another"; clean = ["sort_by_time"] '
            "would mix the rows of different files."
        )
    remedy = (
        'If rows are out of order, ask for clean = ["sort_by_time"]; if the clock was set to zero there, ask for '
        'clean = ["join_restarts"].'
    )
    if is_local and _PUT_BACK_S[0] < back_s < _PUT_BACK_S[1]:
        return f'If clocks were put back for winter there, state time_zone, for example "Europe/Berlin". {remedy}'
    return remedy
