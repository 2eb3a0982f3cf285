"""What is wrong with a file or worth knowing about it, each with its place and its remedy."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, Literal

from lifetime.constants import ZERO_CELSIUS_K
from lifetime.errors import HistoryError
from lifetime.history.channels import looks_like_number
from lifetime.history.clean import HIGHEST_TEMPERATURE_C, LOWEST_TEMPERATURE_C
from lifetime.history.offers import Offer
from lifetime.history.reader import Reader
from lifetime.history.sign import SignHint
from lifetime.units import named_unit

FindingSeverity = Literal["error", "warning", "note"]
_ORDER: Final = ("error", "warning", "note")


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing wrong with a file, or worth knowing.

    Args:
        severity: ``error`` stops a study from reading the file as it is.
        place: Row or column or both, in words; "file" for the whole.
        message: What was found.
        number: The number that goes with it, a count or a value; None where there is none.
        remedy: What to do; empty where there is nothing to do.
    """

    severity: FindingSeverity
    place: str
    message: str
    number: float | None
    remedy: str


def gravest_first(found: list[Finding]) -> tuple[Finding, ...]:
    """Order findings by severity, otherwise as found.

    Args:
        found: In the order found.
    """
    return tuple(sorted(found, key=lambda finding: _ORDER.index(finding.severity)))


def of_file(reader: Reader, rows: int, fault: HistoryError | None, offered: tuple[Offer, ...]) -> list[Finding]:
    """What concerns the file as a whole.

    Args:
        reader: The file.
        rows: Data rows read.
        fault: What stopped reading, or None.
        offered: What the columns could be.
    """
    found = []
    quantities = {offer.quantity for offer in offered}
    if "time" not in quantities:
        remedy = "Name it in the study yourself; it must hold numbers."
        found.append(Finding("error", "file", "no column of numbers looks like time.", None, remedy))
    if not quantities & {"current", "power"}:
        remedy = "Name it in the study yourself; it must hold numbers."
        found.append(Finding("error", "file", "no column of numbers looks like current or power.", None, remedy))
    if fault is not None:
        place = "file" if fault.row is None else f"row {fault.row}"
        found.append(Finding("error", place, f"{fault.problem} Reading stopped here.", None, fault.remedy))
    if rows < 2:
        found.append(Finding("error", "file", "fewer than two data rows.", rows, "Give a longer recording."))
    if any(looks_like_number(name) for name in reader.columns):
        remedy = "Put column names into the first row."
        found.append(Finding("error", "row 1", "the header holds numbers, so it seems to be missing.", None, remedy))
    twice = sorted({name for name in reader.columns if reader.columns.count(name) > 1})
    for name in twice:
        count = reader.columns.count(name)
        remedy = "Rename them before a study asks for one."
        found.append(Finding("note", f'column "{name}"', f"the name stands over {count} columns.", count, remedy))
    for notice in reader.notices:
        text = notice.message.removeprefix(f"{reader.label}: ")
        found.append(Finding(notice.severity, "file", text, None, ""))
    return found


def of_columns(
    columns: Mapping[str, tuple[int, int | None, float | None, float | None]], offered: Mapping[str, Offer]
) -> list[Finding]:
    """Missing values and implausible temperatures in the columns offered.

    Args:
        columns: Missing count, first missing row, lowest and highest value, by column.
        offered: The offers, by column.
    """
    found = []
    for name, (missing, row, low, high) in columns.items():
        offer = offered[name]
        if missing:
            place = f'row {row}, column "{name}"'
            remedy = 'Repair the rows, or ask for clean = ["drop_bad_rows"].'
            text = f"{missing} {'row' if missing == 1 else 'rows'} without a number, the first here."
            found.append(Finding("error", place, text, missing, remedy))
        if offer.unit is None:
            remedy = f'Add {offer.quantity}_unit = "..." to the study.'
            found.append(Finding("warning", f'column "{name}"', "the header names no unit.", None, remedy))
        elif offer.quantity == "temperature" and low is not None and high is not None:
            found += _implausible(name, offer.unit, low, high)
    return found


def of_time(column: str, backward: int, row: int | None) -> list[Finding]:
    """Steps back in time.

    Args:
        column: The time column.
        backward: How many.
        row: Row at the end of the first of them.
    """
    if not backward:
        return []
    remedy = 'Ask for clean = ["sort_by_time"], or cut the file where the clock was restarted.'
    return [Finding("error", f'row {row}, column "{column}"', "time runs backwards.", backward, remedy)]


def of_gaps(column: str, gaps: int, largest: float, row: int | None) -> list[Finding]:
    """Gaps in time.

    Args:
        column: The time column.
        gaps: How many.
        largest: Longest step.
        row: Row at its end.
    """
    if not gaps:
        return []
    remedy = 'Ask for clean = ["rest_in_gaps"] or clean = ["bridge_gaps"].'
    text = f"{gaps} {'gap' if gaps == 1 else 'gaps'}; the longest, {largest:g}, ends here."
    return [Finding("error", f'row {row}, column "{column}"', text, gaps, remedy)]


def of_sign(hint: SignHint) -> Finding:
    """What the data say about the sign of discharge.

    Args:
        hint: The evidence.
    """
    severity: FindingSeverity = "warning" if hint.agree is False else "note"
    return Finding(severity, "file", f"{hint.message}.", None, "" if hint.sign else "State discharge_is in the study.")


def _implausible(name: str, symbol: str, low: float, high: float) -> list[Finding]:
    unit = named_unit(symbol)
    if unit is None:
        return []
    found = []
    for value in (low, high):
        temperature_C = (value + unit.offset) * unit.multiplier / unit.divisor - ZERO_CELSIUS_K
        if not LOWEST_TEMPERATURE_C - 1e-9 <= temperature_C <= HIGHEST_TEMPERATURE_C + 1e-9:
            text = f"{value:g} {symbol} is outside {LOWEST_TEMPERATURE_C:g} to {HIGHEST_TEMPERATURE_C:g} °C."
            remedy = 'Check the unit; for error codes ask for clean = ["drop_bad_rows"].'
            found.append(Finding("error", f'column "{name}"', text, value, remedy))
    return found
