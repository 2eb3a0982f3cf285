"""What the command ``check`` does: inspects a history file, prints, draws, writes a study to edit."""

import sys
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from lifetime.cli.output_files import check_output_file
from lifetime.cli.terminal import print_json
from lifetime.errors import HistoryError, InputError

if TYPE_CHECKING:
    from rich.console import Console

    from lifetime.history.formats.layout import Layout
    from lifetime.history.formats.number_format import Decimal
    from lifetime.history.inspection.file_report import FileReport
    from lifetime.history.mapping.study_entry import Stated


@dataclass(frozen=True, slots=True)
class CheckRequest:
    """What was asked for at the command line.

    Args:
        file: The file or a pattern.
        as_json: Print one JSON document instead of text.
        plot: Where to write the page, or None.
        write: Where to write the study to edit, or None.
        export: Where to write what was understood, or None.
        clean: Cleaning steps for the export and the study.
        header_row: Row of the column names, or None.
        decimal: Decimal mark, or None.
        sheet: Sheet of a workbook, or None.
        bus_database: Message database of a vehicle bus, or None.
    """

    file: str
    as_json: bool
    plot: Path | None
    write: Path | None
    export: Path | None
    clean: tuple[str, ...]
    header_row: int | None
    decimal: str | None
    sheet: str | None
    bus_database: Path | None


def check_and_print(request: CheckRequest, out: "Console") -> None:
    """Inspect the file, print the report, and write what was asked for.

    Args:
        request: What was asked for.
        out: Where to print.

    Raises:
        HistoryError: The file cannot be looked at.
        InputError: An option cannot be used.
    """
    from lifetime.report.file_report import print_file_report  # noqa: PLC0415

    if request.write is not None and request.write.exists():
        raise InputError(f"{request.write}: the file is there already. Name another, or remove it first.")
    check_output_file(request.write, "--write")
    check_output_file(request.plot, "--plot")
    check_output_file(request.export, "--export")
    _check_cleaning(request)
    layout = _layout(request)
    found = _with_progress(request.file, layout)
    if request.as_json:
        print_json(asdict(found))
    else:
        print_file_report(found, out)
    if request.plot is not None:
        from lifetime.report.file_page import write_file_page  # noqa: PLC0415

        write_file_page(found, request.plot, layout)
    if request.write is not None:
        _write_study(found, request.write, request)
    if request.export is not None:
        from lifetime.cli.file_export import export  # noqa: PLC0415

        export(found, request.export, layout, request.clean)


def _check_cleaning(request: CheckRequest) -> None:
    from lifetime.history.record import CLEANING  # noqa: PLC0415

    if request.clean and request.export is None and request.write is None:
        raise InputError("--clean works with --export or --write. Name one of them too.")
    for step in request.clean:
        if step not in CLEANING:
            raise InputError(f"--clean {step}: there is no such step. Known are {', '.join(CLEANING)}.")


def _layout(request: CheckRequest) -> "Layout":
    from lifetime.history.formats.layout import Layout  # noqa: PLC0415

    if request.decimal not in (None, ".", ","):
        raise InputError(f'--decimal must be . or , and is "{request.decimal}".')
    decimal: Decimal | None = None if request.decimal is None else "," if request.decimal == "," else "."
    return Layout(request.header_row, decimal, request.sheet, request.bus_database)


def _with_progress(file: str, layout: "Layout") -> "FileReport":
    """Look at the file with a count of rows on a terminal, and none in a pipe."""
    from rich.console import Console  # noqa: PLC0415
    from rich.progress import Progress, SpinnerColumn, TextColumn  # noqa: PLC0415

    from lifetime.history.inspection.file_report import describe_file  # noqa: PLC0415

    columns = (SpinnerColumn(), TextColumn("{task.description}"), TextColumn("{task.completed:,.0f} rows"))
    stderr = Console(stderr=True)
    with Progress(*columns, console=stderr, transient=True, disable=not sys.stderr.isatty()) as bar:
        task = bar.add_task("Reading", total=None)
        return describe_file(file, layout, lambda rows: bar.update(task, completed=rows))


def _write_study(found: "FileReport", target: Path, request: CheckRequest) -> None:
    from lifetime.history.mapping.study_entry import inline_table  # noqa: PLC0415
    from lifetime.study.skeleton import skeleton  # noqa: PLC0415

    if found.study_keys is None:
        raise HistoryError(
            "no study can be written, because no column looks like time, or none like current or power.",
            file=found.file,
            remedy="Write the study by hand, and name the columns there.",
        )
    keys: dict[str, Stated] = {**found.study_keys, "file": _seen_from(found.file, target.parent)}
    if request.clean:
        keys["clean"] = list(request.clean)
    if request.decimal is not None:
        keys["decimal"] = request.decimal
    if request.sheet is not None:
        keys["sheet"] = request.sheet
    if request.bus_database is not None:
        keys["bus_database"] = _seen_from(str(request.bus_database), target.parent)
    if request.header_row is not None:
        keys["header_row"] = request.header_row
    target.write_text(
        skeleton(
            inline_table(keys),
            is_demand="current" not in keys,
            by_speed=not {"current", "power", "phase_currents", "torque"} & keys.keys(),
            # Times of unknown unit are taken as seconds here, as most are; a person sees and changes what follows.
            length_s=0.0 if found.time is None else found.time.span,
        ),
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
