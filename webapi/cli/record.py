"""Commands on the record: list assessments and sweeps, show one, run an assessment again."""

import sys
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from lifetime.cli.options import AsJson, Report
from lifetime.cli.output_files import check_output_file
from lifetime.cli.terminal import console, print_json
from lifetime.errors import InputError
from webapi.cli.failures import answered

if TYPE_CHECKING:
    from lifetime.sweep.summary import Summary
    from webapi.models import Assessment, Sweep

app = typer.Typer(help="List, show and rerun what is on record.", no_args_is_help=True)
Key = Annotated[str, typer.Argument(metavar="ID", help="The id, or its first letters.", show_default=False)]
Limit = Annotated[
    int, typer.Option("--limit", metavar="NUMBER", min=1, max=500, help="Largest number listed, newest first.")
]


@app.command("sweeps")
def list_sweeps(
    limit: Limit = 20,
    as_json: AsJson = False,
) -> None:
    """List the newest sweeps on record."""
    with answered():
        from rich.table import Table  # noqa: PLC0415
        from rich.text import Text  # noqa: PLC0415

        from webapi.cli.storage import opened  # noqa: PLC0415
        from webapi.services import sweeps  # noqa: PLC0415

        with opened() as (factory, _), factory() as session:
            rows = sweeps.listed(session, limit)
            if as_json:
                print_json([_sweep(row, least) for row, least in rows])
                return
            if not rows:
                console().print("There is no sweep on record yet. packwear sweep STUDY puts its rows there.")
                return
            table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="bold")
            for heading in ("id", "recorded (UTC)", "study", "candidates", "lowest cost"):
                table.add_column(heading, overflow="fold", no_wrap=heading in {"id", "recorded (UTC)"})
            for row, least in rows:
                cost = "" if least is None else f"{least:,.0f}"
                when = f"{row.created_at:%Y-%m-%d %H:%M}"
                table.add_row(row.id, when, Text(row.title), f"{row.candidates:,}", cost)
            console().print(table)


@app.command("list")
def list_assessments(
    limit: Limit = 20,
    as_json: AsJson = False,
) -> None:
    """List the newest assessments on record."""
    with answered():
        from webapi.cli.storage import opened  # noqa: PLC0415
        from webapi.services import assessments  # noqa: PLC0415

        with opened() as (factory, _), factory() as session:
            rows = assessments.listed(session, limit=limit).items
            if as_json:
                print_json([{**_row(row), "strategies": row.strategies} for row in rows])
                return
            if not rows:
                console().print("There is no assessment on record yet. packwear assess STUDY puts its result there.")
                return
            from rich.table import Table  # noqa: PLC0415
            from rich.text import Text  # noqa: PLC0415

            table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="bold")
            table.add_column("id", no_wrap=True)
            table.add_column("recorded (UTC)", no_wrap=True)
            table.add_column("study", overflow="fold")
            for row in rows:
                table.add_row(row.id, f"{row.created_at:%Y-%m-%d %H:%M}", Text(row.title))
            console().print(table)


@app.command("show")
def show(key: Key, as_json: AsJson = False, report: Report = None) -> None:
    """Show an assessment as recorded, or the summary of a sweep."""
    with answered():
        from webapi.cli.storage import opened  # noqa: PLC0415
        from webapi.models import Assessment, Sweep  # noqa: PLC0415
        from webapi.services import assessments, keys, sweeps  # noqa: PLC0415

        check_output_file(report, "--report")
        with opened() as (factory, _), factory() as session:
            full = keys.full_id(session, key, Assessment, Sweep)
            if (found := sweeps.summary(session, full)) is not None:
                _show_sweep(*found, as_json=as_json, report=report)
                return
            document = assessments.document_of(assessments.get(session, full))
            if report is not None:
                from lifetime.report.html import write_report  # noqa: PLC0415

                write_report(document, report)
            if as_json:
                sys.stdout.write(document.to_json() + "\n")
                return
            from lifetime.report.table import print_ranking  # noqa: PLC0415

            print_ranking(document, console())


@app.command("rerun")
def rerun(
    key: Key,
    folder: Annotated[
        Path,
        typer.Option(
            "--folder",
            metavar="FOLDER",
            help="Where the files of your own split functions are: the study's folder.",
            exists=True,
            file_okay=False,
        ),
    ] = Path(),
    as_json: AsJson = False,
) -> None:
    """Run a recorded assessment again and compare the figures.

    It is run with the histories, parameter sets and climate it was made with; shipped ones that are others today are
    named. The exit code is 1 where figures differ.
    """
    with answered():
        from webapi.cli.storage import opened  # noqa: PLC0415
        from webapi.models import Assessment  # noqa: PLC0415
        from webapi.services import keys, reruns  # noqa: PLC0415

        with opened() as (factory, store), factory() as session:
            found = reruns.rerun(session, store, keys.full_id(session, key, Assessment), folder)
    if as_json:
        rows = [
            {"figure": one.place, "stored": one.stored, "now": one.now, "relative_difference": one.relative}
            for one in found.differences
        ]
        inputs = [asdict(one) for one in found.inputs]
        print_json({"agrees": found.agrees, "figures": found.figures, "differences": rows, "inputs": inputs})
    else:
        out = console()
        for changed in found.inputs:
            out.print(changed.words, markup=False)
        versions = f"recorded by packwear {found.stored_version}, run again by {found.program_version}"
        if found.agrees:
            out.print(f"All {found.figures} figures agree within 1e-9 ({versions}).")
        else:
            out.print(f"{len(found.differences)} of {found.figures} figures differ ({versions}):")
            for one in found.differences[:20]:
                moved = "" if one.relative is None else f" ({100 * one.relative:.3g} %)"
                out.print(f"  {one.place}: {one.stored} then, {one.now} now{moved}", markup=False)
    if not found.agrees:
        raise typer.Exit(1)


def _show_sweep(row: "Sweep", found: "Summary", *, as_json: bool, report: Path | None) -> None:
    if report is not None:
        raise InputError(
            f"{row.id} is a sweep, and a report is of one assessment. Assess the candidate that you want a report of."
        )
    if as_json:
        from lifetime.sweep.document import summary_document  # noqa: PLC0415

        print_json({"id": row.id, "title": row.title, **summary_document(found, row.document)})
        return
    from lifetime.cli.sweep_summary import print_summary  # noqa: PLC0415

    console().print(row.title, markup=False)
    print_summary(found, f"on record as {row.id}", row.document, console())


def _sweep(row: "Sweep", least: float | None) -> dict[str, Any]:
    keys = [axis["key"] for axis in row.axes]
    return {**_row(row), "candidates": row.candidates, "keys": keys, "lowest_net_present_cost": least}


def _row(row: "Assessment | Sweep") -> dict[str, Any]:
    """What every list says of a row."""
    return {
        "id": row.id,
        "title": row.title,
        "program_version": row.program_version,
        "created_at": row.created_at.isoformat(),
    }
