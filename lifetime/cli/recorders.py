"""How commands put results on record: the library does not know where, so the program hands it in."""

from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import typer

if TYPE_CHECKING:
    from lifetime.results.records import Assessment
    from lifetime.study.load import LoadedStudy
    from lifetime.sweep.plan import Plan


@dataclass(frozen=True, slots=True)
class Recorders:
    """What is called after a run of the user's own, unless the user says otherwise.

    Args:
        assessment: Takes the study as assessed, its result, and the folder that the study's paths start from.
        sweep: Takes the plan of a sweep, and the Parquet file with its rows.
    """

    assessment: "Callable[[LoadedStudy, Assessment, Path], None]"
    sweep: "Callable[[Plan, Path], None]"


def recorders(context: typer.Context) -> Recorders:
    """Those that the program was put together with.

    Args:
        context: Of the command.
    """
    handed_in = context.obj
    assert isinstance(handed_in, Recorders)  # noqa: S101 - put there by ``build_app``
    return handed_in
