"""Findings about the time column: steps back, gaps, a clock that jumps, rows of one time."""

from collections.abc import Iterator
from typing import Literal

from lifetime.history.inspection.file_scan import FileScan
from lifetime.history.inspection.findings import Finding
from lifetime.history.inspection.gap_words import GapWords
from lifetime.history.inspection.no_record import no_record
from lifetime.history.inspection.step_charge import GapCharge
from lifetime.history.inspection.time_scan import TimeReport, TimeScan
from lifetime.history.inspection.time_words import backward_remedy
from lifetime.history.inspection.words import place_of
from lifetime.text import counted, significant
from lifetime.units import named_unit


def time_findings(scan: FileScan) -> Iterator[Finding]:
    """Everything about the suggested time column; nothing where there is none.

    Args:
        scan: The pass over the file.
    """
    report = None if scan.time is None else scan.time.report
    if scan.time is None or report is None:
        return
    nothing = no_record(scan)
    if nothing is not None:
        yield nothing
        return  # gaps and steps back in a table of results mean nothing
    if report.backward_steps:
        place = place_of(report.column, report.first_backward_row)
        remedy = backward_remedy(
            scan.time.first_back,
            between_files=scan.time.backward == scan.time.backward_between_files,
            is_local=bool(scan.by_role["time"].patterns),
        )
        yield Finding("error", place, "time runs backwards.", report.backward_steps, remedy)
    if report.gaps:
        yield _gaps(scan, scan.time, report)
    yield from _uneven_steps(scan, scan.time)
    yield from _jumps(scan, scan.time)
    yield from _repeated_rows(scan, scan.time)


def _gaps(scan: FileScan, time: TimeScan, report: TimeReport) -> Finding:
    unit = "" if report.unit is None else f" {report.unit}"
    message = f"{counted(report.gaps, 'gap')}; the longest, {significant(report.largest_step)}{unit}, ends here."
    remedy = 'Ask for clean = ["rest_in_gaps"] or clean = ["bridge_gaps"].'
    charge = time.steps.gap_charge()
    if charge is not None:
        words = _words(scan, time, charge)
        message, remedy = f"{message}{words.beside}{words.choices}", words.remedy
    return Finding("error", place_of(report.column, report.largest_step_row), message, report.gaps, remedy)


def _uneven_steps(scan: FileScan, time: TimeScan) -> Iterator[Finding]:
    """Long steps that are the logger's way of writing; they need no cleaning."""
    found = time.steps.uneven()
    if found is None:
        return
    count, charge = found
    words = _words(scan, time, charge)
    message = (
        f"the step is uneven: {counted(count, 'step')} of over ten median steps, with {words.quantity} that stays. "
        f"They contain {words.within}; values are linear through them, and no cleaning is needed."
    )
    yield Finding("note", place_of(time.column), message, count, "")


def _words(scan: FileScan, time: TimeScan, charge: GapCharge) -> GapWords:
    flow = scan.flow
    quantity: Literal["current", "power"] = "power" if flow is not None and flow.role == "power" else "current"
    unit = None if flow is None or flow.unit is None or not time.is_unit_known else named_unit(flow.unit)
    factor = None if unit is None else unit.multiplier / unit.divisor
    return GapWords(charge, quantity, factor, (f"with positive {quantity}", f"with negative {quantity}"))


def _jumps(scan: FileScan, time: TimeScan) -> Iterator[Finding]:
    count, row = time.steps.jumps()
    if not count or row is None:
        return
    unit = " s" if time.is_unit_known else ""
    median = f"{significant(time.steps.median_s)}{unit}"
    message = f"the clock seems to jump: {counted(count, 'time step')} off the median of {median}."
    remedy = "Find out whether the logger's clock was set; charge is counted with the times in the file."
    yield Finding("warning", place_of(time.column, scan.reader.place(row)[1]), message, count, remedy)


def _repeated_rows(scan: FileScan, time: TimeScan) -> Iterator[Finding]:
    repeated = scan.checks.repeated
    if repeated.first_row is not None:
        message = f"{counted(repeated.rows, 'row')} identical to the row before; they change no result."
        yield Finding("note", f"row {scan.reader.place(repeated.first_row)[1]}", message, repeated.rows, "")
    edges = time.equal_times.edges
    if time.equal_times.are_coarse:
        unit = " s" if time.is_unit_known else ""
        message = (
            f"{counted(edges, 'row')} with the time of the row before, and their values move: times are written in "
            f"steps of {significant(time.steps.median_s)}{unit}, coarser than the rows come, and nothing flows in them."
        )
        remedy = 'Ask for clean = ["spread_times"], or name a column with finer times.'
        yield Finding("error", place_of(time.column), message, edges, remedy)
    elif edges and repeated.first_row is None:
        message = f"{counted(edges, 'row')} with the time of the row before, read as switching edges."
        yield Finding("note", place_of(time.column), message, edges, "")
