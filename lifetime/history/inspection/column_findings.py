"""Findings about the suggested columns: missing values, units, implausible values, timestamps of two meanings."""

from collections.abc import Iterator

from lifetime.constants import ZERO_CELSIUS_K
from lifetime.history.cleaning.value_ranges import HIGHEST_TEMPERATURE_C, LOWEST_TEMPERATURE_C
from lifetime.history.inspection.column_scan import ColumnScan
from lifetime.history.inspection.file_scan import FileScan
from lifetime.history.inspection.findings import Finding
from lifetime.history.inspection.plausibility import implausible_units
from lifetime.history.inspection.words import place_of
from lifetime.history.mapping.column_suggestions import ColumnSuggestion
from lifetime.text import counted
from lifetime.units import named_unit


def column_findings(scan: FileScan) -> Iterator[Finding]:
    """Missing values, units not stated and implausible temperatures.

    Args:
        scan: The pass over the file.
    """
    suggested = {suggestion.position: suggestion for suggestion in scan.by_role.values()}
    for position in sorted(suggested.keys() & scan.numeric):
        suggestion, column = suggested[position], scan.columns[position]
        if column.missing:
            yield _missing(suggestion.column, column)
        if suggestion.unit is None and suggestion.role not in ("date", "mode"):
            remedy = f'Add {suggestion.role}_unit = "..." to the study.'
            yield Finding("warning", place_of(suggestion.column), "the header states no unit.", None, remedy)
        elif suggestion.role == "temperature":
            yield from _implausible_temperatures(suggestion, column)


def timestamp_findings(scan: FileScan) -> Iterator[Finding]:
    """Timestamps that more than one pattern fits.

    Args:
        scan: The pass over the file.
    """
    for suggestion in scan.by_role.values():
        if len(suggestion.patterns) > 1:
            patterns = " and ".join(f'"{pattern}"' for pattern in suggestion.patterns)
            message = f"the timestamps fit {patterns}, and only you know which is meant."
            remedy = f"State {suggestion.role}_format in the study."
            yield Finding("warning", place_of(suggestion.column), message, len(suggestion.patterns), remedy)


def unit_findings(scan: FileScan) -> Iterator[Finding]:
    """Units that fail the plausibility check.

    Args:
        scan: The pass over the file.
    """
    for unit in implausible_units(scan.magnitudes()):
        place = place_of(scan.by_role[unit.quantity].column) if unit.quantity in scan.by_role else "file"
        remedy = f"Check the unit; the study may state {unit.quantity}_unit where the header is wrong or states none."
        yield Finding("warning", place, unit.message, unit.number, remedy)


def _missing(name: str, column: ColumnScan) -> Finding:
    message = f"{counted(column.missing, 'row')} without a number, the first here"
    run = column.longest_missing
    message += f", up to {run} in a row." if run > 1 else "."
    remedy = 'Repair the rows, or ask for clean = ["drop_bad_rows"].'
    return Finding("error", place_of(name, column.first_missing_row), message, column.missing, remedy)


def _implausible_temperatures(suggestion: ColumnSuggestion, column: ColumnScan) -> Iterator[Finding]:
    unit = None if suggestion.unit is None else named_unit(suggestion.unit)
    if unit is None or column.range is None:
        return
    for value in column.range:
        temperature_C = (value + unit.offset) * unit.multiplier / unit.divisor - ZERO_CELSIUS_K
        if not LOWEST_TEMPERATURE_C - 1e-9 <= temperature_C <= HIGHEST_TEMPERATURE_C + 1e-9:
            limits = f"{LOWEST_TEMPERATURE_C:g} to {HIGHEST_TEMPERATURE_C:g} °C"
            message = f"{value:g} {suggestion.unit} is outside {limits}."
            remedy = 'Check the unit; for error codes ask for clean = ["drop_bad_rows"].'
            yield Finding("error", place_of(suggestion.column), message, value, remedy)
