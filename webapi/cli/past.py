"""Commands on past assessments: list them, show one, run one again."""

import json
import sys
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from lifetime.cli.app import AsJson, Report, console
from lifetime.cli.targets import check_target
from lifetime.errors import InputError
from webapi.cli.failing import answered

if TYPE_CHECKING:
    from lifetime.sweep.summary import Summary
    from webapi.models import Assessment, Sweep

app = typer.Typer(help="Past assessments: list them, show one, run one again.", no_args_is_help=True)
Key = Annotated[str, typer.Argument(help="The id, or its first letters.", show_default=False)]


@app.command("sweeps")
def list_sweeps(
    limit: Annotated[int, typer.Option(min=1, max=500, help="How many, the newest first.")] = 20,
    as_json: AsJson = False,
) -> None:
    """List the newest sweeps on record."""
    with answered():
        from rich.table import Table  # noqa: PLC0415
        from rich.text import Text  # noqa: PLC0415

        from webapi.cli.opening import opened  # noqa: PLC0415
        from webapi.services import sweeps  # noqa: PLC0415

        with opened() as (factory, _), factory() as session:
            rows = sweeps.listed(session, limit)
            if as_json:
                _print_json([_sweep(row, least) for row, least in rows])
                return
            if not rows:
                console().print("No sweep is on record yet. packwear sweep STUDY records its rows.")
                return
            table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="bold")
            for heading in ("id", "when (UTC)", "study", "candidates", "least cost"):
                table.add_column(heading, overflow="fold", no_wrap=heading in {"id", "when (UTC)"})
            for row, least in rows:
                cost = "" if least is None else f"{least:,.0f}"
                when = f"{row.created_at:%Y-%m-%d %H:%M}"
                table.add_row(row.id, when, Text(row.title), f"{row.candidates:,}", cost)
            console().print(table)


@app.command("list")
def list_past(
    limit: Annotated[int, typer.Option(min=1, max=500, help="How many, the newest first.")] = 20,
    as_json: AsJson = False,
) -> None:
    """List the newest assessments on record."""
    with answered():
        from webapi.cli.opening import opened  # noqa: PLC0415
        from webapi.services import assessments  # noqa: PLC0415

        with opened() as (factory, _), factory() as session:
            rows = assessments.listed(session, limit=limit).items
            if as_json:
                _print_json([{**_row(row), "strategies": row.strategies} for row in rows])
                return
            if not rows:
                console().print("Nothing is on record yet. packwear assess STUDY records its result.")
                return
            from rich.table import Table  # noqa: PLC0415
            from rich.text import Text  # noqa: PLC0415

            table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="bold")
            table.add_column("id", no_wrap=True)
            table.add_column("when (UTC)", no_wrap=True)
            table.add_column("study", overflow="fold")
            for row in rows:
                table.add_row(row.id, f"{row.created_at:%Y-%m-%d %H:%M}", Text(row.title))
            console().print(table)


@app.command("show")
def show_past(key: Key, as_json: AsJson = False, report: Report = None) -> None:
    """Show an assessment as it was recorded, or what a sweep shows."""
    with answered():
        from webapi.cli.opening import opened  # noqa: PLC0415
        from webapi.models import Assessment, Sweep  # noqa: PLC0415
        from webapi.services import assessments, keys, sweeps  # noqa: PLC0415

        check_target(report, "--report")
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
def rerun_past(key: Key, as_json: AsJson = False) -> None:
    """Run a recorded assessment again and say whether the numbers still agree (exit code 1 where they do not)."""
    with answered():
        from webapi.cli.opening import opened  # noqa: PLC0415
        from webapi.models import Assessment  # noqa: PLC0415
        from webapi.services import assessments, keys  # noqa: PLC0415

        with opened() as (factory, store), factory() as session:
            found = assessments.rerun(session, store, keys.full_id(session, key, Assessment))
    if as_json:
        rows = [
            {"figure": one.place, "stored": one.stored, "now": one.now, "relative_difference": one.relative}
            for one in found.differences
        ]
        _print_json({"agrees": found.agrees, "figures": found.figures, "differences": rows})
    else:
        out = console()
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
    from lifetime.cli.sweeping import print_summary  # noqa: PLC0415

    if report is not None:
        raise InputError(f"{row.id} is a sweep, and reports are of assessments. Assess the candidate you want one of.")
    if as_json:
        _print_json({"id": row.id, "title": row.title, **asdict(found)})
        return
    console().print(row.title, markup=False)
    print_summary(found, f"on record as {row.id}", console())


def _sweep(row: "Sweep", least: float | None) -> dict[str, Any]:
    keys = [axis["key"] for axis in row.axes]
    return {**_row(row), "candidates": row.candidates, "keys": keys, "least_net_present": least}


def _row(row: "Assessment | Sweep") -> dict[str, Any]:
    """What every list says of a row."""
    return {
        "id": row.id,
        "title": row.title,
        "program_version": row.program_version,
        "created_at": row.created_at.isoformat(),
    }


def _print_json(data: Any) -> None:
    sys.stdout.write(json.dumps(data, indent=2, allow_nan=False, ensure_ascii=False) + "\n")
