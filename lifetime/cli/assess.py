"""The commands ``assess`` and ``demo``."""

import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from lifetime.cli.options import AsJson, Report, StudyFile
from lifetime.cli.output_files import check_output_file
from lifetime.cli.recorders import recorders
from lifetime.cli.terminal import console, exit_codes, progress

if TYPE_CHECKING:
    from lifetime.results.records import Assessment
    from lifetime.study.load import LoadedStudy


def assess(
    context: typer.Context,
    study: StudyFile,
    as_json: AsJson = False,
    report: Report = None,
    no_record: Annotated[bool, typer.Option("--no-record", help="Do not put the result on record.")] = False,
) -> None:
    """Assess a study and rank its strategies by net present cost."""
    with exit_codes():
        loaded, assessment = _assess_and_print(study, as_json=as_json, report=report)
        if not no_record:
            recorders(context).assessment(loaded, assessment, study.parent)


def demo(as_json: AsJson = False, report: Report = None) -> None:
    """Assess the built-in, invented study of a yard tractor.

    Nothing is put on record.
    """
    from lifetime.packs.locate import profiles_folder  # noqa: PLC0415

    if not as_json:
        sys.stderr.write("An invented yard tractor; nothing in it was measured.\n\n")
    with exit_codes():
        _assess_and_print(profiles_folder() / "demo" / "yard_tractor.toml", as_json=as_json, report=report)


def _assess_and_print(path: Path, *, as_json: bool, report: Path | None) -> "tuple[LoadedStudy, Assessment]":
    """Assess a study file, print the ranking or the document, and write the report asked for."""
    from lifetime.results.document import ResultDocument  # noqa: PLC0415
    from lifetime.study.load import load_study  # noqa: PLC0415

    check_output_file(report, "--report")
    loaded = load_study(path)
    assessment = _with_progress(loaded)
    document = ResultDocument.of(assessment)
    if as_json:
        sys.stdout.write(document.to_json() + "\n")
    else:
        from lifetime.report.table import print_ranking  # noqa: PLC0415

        print_ranking(document, console())
    sys.stdout.flush()
    if report is not None:
        from lifetime.report.html import write_report  # noqa: PLC0415

        write_report(document, report)
    return loaded, assessment


def _with_progress(loaded: "LoadedStudy") -> "Assessment":
    from lifetime.assessment.run import assess as run  # noqa: PLC0415

    advance: Callable[[int], None]
    with progress("Assessing", len(loaded.study.strategy)) as advance:
        return run(loaded, lambda _: advance(1))
