"""What the command ``check`` does: look, print, draw, write a study to edit."""

import sys
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from lifetime.cli.targets import check_target
from lifetime.errors import HistoryError, InputError

if TYPE_CHECKING:
    from rich.console import Console

    from lifetime.history.formats.layout import Layout
    from lifetime.history.formats.number_format import Decimal
    from lifetime.history.inspection.file_report import FileReport


@dataclass(frozen=True, slots=True)
class Wanted:
    """What was asked for.

    Args:
        file: The file or a pattern.
        as_json: Print one JSON document instead of text.
        plot: Where to write the page, or None.
        write: Where to write the study to edit, or None.
        header_row: Row of the column names, or None.
        decimal: Decimal mark, or None.
        sheet: Sheet of a workbook, or None.
        bus_database: Data base of a vehicle bus, or None.
    """

    file: str
    as_json: bool
    plot: Path | None
    write: Path | None
    header_row: int | None
    decimal: str | None
    sheet: str | None
    bus_database: Path | None


def check_and_print(wanted: Wanted, console: "Console") -> None:
    """Look at the file, print what was found, and write what was asked for.

    Args:
        wanted: What was asked for.
        console: Where to print.

    Raises:
        HistoryError: The file cannot be looked at.
        InputError: An option cannot be used.
    """
    from lifetime.report.file_report import file_document, print_file_report  # noqa: PLC0415

    if wanted.write is not None and wanted.write.exists():
        raise InputError(f"{wanted.write}: the file is there already. Name another, or remove it first.")
    check_target(wanted.write, "--write")
    check_target(wanted.plot, "--plot")
    layout = _layout(wanted)
    found = _with_progress(wanted.file, layout)
    if wanted.as_json:
        sys.stdout.write(file_document(found) + "\n")
    else:
        print_file_report(found, console)
    if wanted.plot is not None:
        from lifetime.report.file_page import write_file_page  # noqa: PLC0415

        write_file_page(found, wanted.plot, layout)
    if wanted.write is not None:
        _write_study(found, wanted)


def _layout(wanted: Wanted) -> "Layout":
    from lifetime.history.formats.layout import Layout  # noqa: PLC0415

    if wanted.decimal not in (None, ".", ","):
        raise InputError(f'--decimal must be . or , and is "{wanted.decimal}".')
    decimal: Decimal | None = None if wanted.decimal is None else "," if wanted.decimal == "," else "."
    return Layout(wanted.header_row, decimal, wanted.sheet, wanted.bus_database)


def _with_progress(file: str, layout: "Layout") -> "FileReport":
    """Look at the file with a count of rows on a terminal, and none in a pipe."""
    from rich.console import Console  # noqa: PLC0415
    from rich.progress import Progress, SpinnerColumn, TextColumn  # noqa: PLC0415

    from lifetime.history.inspection.file_report import describe_file  # noqa: PLC0415

    columns = (SpinnerColumn(), TextColumn("{task.description}"), TextColumn("{task.completed:,.0f} rows"))
    console = Console(stderr=True)
    with Progress(*columns, console=console, transient=True, disable=not sys.stderr.isatty()) as bar:
        task = bar.add_task("Reading", total=None)
        return describe_file(file, layout, lambda rows: bar.update(task, completed=rows))


def _write_study(found: "FileReport", wanted: Wanted) -> None:
    from lifetime.history.mapping.study_entry import inline_table  # noqa: PLC0415
    from lifetime.study.skeleton import skeleton  # noqa: PLC0415

    target = wanted.write
    if target is None:
        return
    if found.study_keys is None:
        raise HistoryError(
            "no study can be written, because no column looks like time, or none like current or power.",
            file=found.file,
            remedy="Write the study by hand, and name the columns there.",
        )
    keys = {**found.study_keys, "file": _seen_from(found.file, target.parent)}
    stated: dict[str, object] = {"header_row": wanted.header_row, "decimal": wanted.decimal, "sheet": wanted.sheet}
    if wanted.bus_database is not None:
        stated["bus_database"] = _seen_from(str(wanted.bus_database), target.parent)
    table = inline_table({**keys, **{key: value for key, value in stated.items() if isinstance(value, str)}})
    if wanted.header_row is not None:
        table = table.removesuffix(" }") + f", header_row = {wanted.header_row} }}"
    target.write_text(
        skeleton(table, is_demand="current" not in keys, by_speed=not {"current", "power"} & keys.keys()),
        encoding="utf-8",
        newline="\n",
    )
    sys.stderr.write(f'Wrote {target}; fill in every "?" before assessing it.\n')


def _seen_from(file: str, folder: Path) -> str:
    """A path as a study in that folder names it."""
    path = Path(file)
    if path.is_absolute():
        return file
    try:
        return path.absolute().relative_to(folder.absolute()).as_posix()
    except ValueError:
        return path.absolute().as_posix()
