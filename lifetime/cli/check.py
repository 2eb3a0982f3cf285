"""The command ``check``."""

from pathlib import Path
from typing import Annotated

import typer

from lifetime.cli.options import AsJson
from lifetime.cli.terminal import console, exit_codes


def check(
    file: Annotated[
        str,
        typer.Argument(metavar="FILE", help="A history file, or a pattern such as 'log_*.csv'.", show_default=False),
    ],
    as_json: AsJson = False,
    plot: Annotated[
        Path | None,
        typer.Option("--plot", metavar="FILE.html", help="Also write a page with the channels over time."),
    ] = None,
    write: Annotated[
        Path | None,
        typer.Option("--write", metavar="STUDY.toml", help="Also write a study to edit that reads this file."),
    ] = None,
    export: Annotated[
        Path | None,
        typer.Option("--export", metavar="FILE.parquet", help="Also write what was understood, as Parquet in SI."),
    ] = None,
    clean: Annotated[
        list[str] | None,
        typer.Option("--clean", metavar="STEP", help="Data cleaning for --export and --write; may be given again."),
    ] = None,
    header_row: Annotated[
        int | None,
        typer.Option(
            "--header-row", metavar="ROW", min=0, help="Row of the column names, counted from 1; 0 if there is none."
        ),
    ] = None,
    decimal: Annotated[
        str | None, typer.Option("--decimal", metavar="MARK", help="Decimal mark of a text file: . or ,")
    ] = None,
    sheet: Annotated[str | None, typer.Option("--sheet", metavar="NAME", help="Sheet of a workbook.")] = None,
    bus_database: Annotated[
        Path | None,
        typer.Option("--bus-database", metavar="FILE.dbc", help="Database that decodes raw frames of a vehicle bus."),
    ] = None,
) -> None:
    """Say what a history file contains and what data checks find."""
    with exit_codes():
        from lifetime.cli.file_check import CheckRequest, check_and_print  # noqa: PLC0415

        request = CheckRequest(
            file, as_json, plot, write, export, tuple(clean or ()), header_row, decimal, sheet, bus_database
        )
        check_and_print(request, console())
