"""What is wrong with a file or worth knowing about it, each with its place and its remedy."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final, Literal

from lifetime.constants import ZERO_CELSIUS_K
from lifetime.errors import HistoryError
from lifetime.history.cleaning.value_ranges import HIGHEST_TEMPERATURE_C, LOWEST_TEMPERATURE_C
from lifetime.history.formats.reader import Reader
from lifetime.history.inspection.file_scan import FileScan
from lifetime.history.inspection.plausibility import implausible_units
from lifetime.history.mapping.column_suggestions import Offer
from lifetime.history.mapping.discharge_sign import DischargeSign
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
        remedy = "Name it in the study yourself."
        found.append(Finding("error", "file", "no column looks like time.", None, remedy))
    if not quantities & {"current", "power", "speed"}:
        remedy = "Name it in the study yourself; it must hold numbers."
        found.append(Finding("error", "file", "no column of numbers looks like current, power or speed.", None, remedy))
    if fault is not None:
        file = "" if fault.file == reader.label else fault.file
        row = "" if fault.row is None else f"row {fault.row}"
        column = "" if fault.column is None else f'column "{fault.column}"'
        place = ", ".join(part for part in (file, row, column) if part) or "file"
        found.append(Finding("error", place, f"{fault.problem} Reading stopped here.", None, fault.remedy))
    if rows < 2:
        found.append(Finding("error", "file", "fewer than two data rows.", rows, "Give a longer recording."))
    if reader.columns and reader.columns[0] == "column 1":
        remedy = 'Name columns as "column 1", "column 2" and so on, and state their units.'
        found.append(Finding("warning", "file", "there is no row with column names.", None, remedy))
    twice = sorted({name for name in reader.columns if name and reader.columns.count(name) > 1})
    for name in twice:
        count = reader.columns.count(name)
        remedy = "Rename them before a study asks for one."
        found.append(Finding("note", f'column "{name}"', f"the name stands over {count} columns.", count, remedy))
    for notice in reader.notices:
        text = notice.message.removeprefix(f"{reader.label}: ")
        found.append(Finding(notice.severity, "file", text, None, ""))
    return found


def of_columns(
    columns: Mapping[str, tuple[int, int | None, float | None, float | None, int]], offered: Mapping[str, Offer]
) -> list[Finding]:
    """Missing values and implausible temperatures in the columns offered.

    Args:
        columns: Missing count, first missing row, lowest and highest value, longest missing run, by column.
        offered: The offers, by column.
    """
    found = []
    for name, (missing, row, low, high, run) in columns.items():
        offer = offered[name]
        if missing:
            place = f'row {row}, column "{name}"'
            remedy = 'Repair the rows, or ask for clean = ["drop_bad_rows"].'
            text = f"{missing} {'row' if missing == 1 else 'rows'} without a number, the first here"
            text += f", up to {run} in a row." if run > 1 else "."
            found.append(Finding("error", place, text, missing, remedy))
        if offer.unit is None and offer.quantity not in ("date", "mode"):
            remedy = f'Add {offer.quantity}_unit = "..." to the study.'
            found.append(Finding("warning", f'column "{name}"', "the header names no unit.", None, remedy))
        elif offer.quantity == "temperature" and offer.unit is not None and low is not None and high is not None:
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
    remedy = 'Ask for clean = ["sort_by_time"], or clean = ["join_restarts"] where the clock was set to zero.'
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


def of_sign(hint: DischargeSign) -> Finding:
    """What the data say about the sign of discharge.

    Args:
        hint: The evidence.
    """
    severity: FindingSeverity = "warning" if hint.agree is False else "note"
    remedy = "" if hint.sign else "State discharge_is in the study."
    if hint.sign == "negative":
        severity, remedy = "warning", 'State discharge_is = "negative" in the study.'
    return Finding(severity, "file", f"{hint.message}.", None, remedy)


def of_stamps(offered: tuple[Offer, ...]) -> list[Finding]:
    """Stamps that more than one pattern fits.

    Args:
        offered: What the columns could be.
    """
    found = []
    for offer in offered:
        if len(offer.patterns) > 1:
            both = " and ".join(f'"{pattern}"' for pattern in offer.patterns)
            text = f"the stamps fit {both}, and only you know which is meant."
            remedy = f"State {offer.quantity}_format in the study."
            found.append(Finding("warning", f'column "{offer.column}"', text, len(offer.patterns), remedy))
    return found


def of_clock(scan: FileScan) -> list[Finding]:
    """A clock that jumps, and stamps that stand twice.

    Args:
        scan: The pass over the file.
    """
    found = []
    column = scan.offers["time"].column
    count, row = scan.steps.jumps()
    if count and row is not None:
        place = f'row {scan.reader.place(row)[1]}, column "{column}"'
        text = f"the clock seems to jump: {count} steps differ from all others, which take {scan.steps.median_s:g} s."
        remedy = "Find out whether the logger's clock was set; charge is counted with the times as they stand."
        found.append(Finding("warning", place, text, count, remedy))
    if scan.suspects.repeated_rows and scan.suspects.first_repeated_row is not None:
        place = f"row {scan.reader.place(scan.suspects.first_repeated_row)[1]}"
        text = f"{scan.suspects.repeated_rows} rows repeat the row before them; they take no time and do no harm."
        found.append(Finding("note", place, text, scan.suspects.repeated_rows, ""))
    elif scan.edges:
        text = f"{scan.edges} rows have the time of the row before them; they are read as switching edges."
        found.append(Finding("note", f'column "{column}"', text, scan.edges, ""))
    return found


def of_sensors(scan: FileScan) -> list[Finding]:
    """Sensors that are stuck, clipped, spiky or off zero, and a state of charge beyond its range.

    Args:
        scan: The pass over the file.
    """
    found = []
    for quantity, standing in scan.suspects.standing.items():
        column = scan.offers[quantity].column
        stuck, clipped = standing.stuck(), standing.clipped()
        if stuck is not None:
            row = scan.reader.place(stuck.first_row)[1]
            text = f"the {quantity} stands still for {stuck.rows} rows while the drive goes on: the sensor seems stuck."
            remedy = "Cut these rows out, or use another channel."
            found.append(Finding("warning", f'row {row}, column "{column}"', text, stuck.rows, remedy))
        if clipped is not None:
            name, value, count = clipped
            text = f"{count} rows stand exactly at the {name} value, {value:g} in SI: the sensor seems to end there."
            remedy = "Check the sensor's range; what lies beyond it is not in the file."
            found.append(Finding("warning", f'column "{column}"', text, count, remedy))
    for quantity, (count, row, value) in scan.suspects.spikes.items():
        place = f'row {scan.reader.place(row)[1]}, column "{scan.offers[quantity].column}"'
        text = f"{count} {'spike' if count == 1 else 'spikes'} of a single row, the first {value:g} in SI."
        remedy = 'Ask for clean = ["drop_spikes"], or repair the rows.'
        found.append(Finding("warning", place, text, count, remedy))
    drift = None if scan.suspects.drift is None else scan.suspects.drift.drift()
    if drift is not None:
        text = (
            f"counted charge drifts against the logged state of charge, by {100 * drift.drift_soc:.1f} points over the "
            f"file: the current seems to be {drift.offset_A:+.3g} A off zero."
        )
        remedy = (
            f"Have the sensor checked, or state current_offset_A = {drift.offset_A:.3g} (turned over where discharge "
            "is negative)."
        )
        found.append(Finding("warning", f'column "{scan.offers["current"].column}"', text, drift.offset_A, remedy))
    return found + _of_soc(scan)


def _of_soc(scan: FileScan) -> list[Finding]:
    limits = scan.suspects.soc_range
    if limits is None or scan.soc is None or -0.005 <= limits[0] <= limits[1] <= 1.005:
        return []
    worst = limits[0] if limits[0] < -0.005 else limits[1]
    if abs(worst) > 1.5:
        text, remedy = f"holds {100 * worst:g}, so its scale is neither percent nor a fraction.", ""
        return [Finding("note", f'column "{scan.reader.columns[scan.soc]}"', text, 100 * worst, remedy)]
    text = f"the state of charge leaves 0 to 100 % and reaches {100 * worst:g} %."
    remedy = "Check the sensor's calibration; a study counts charge from start_soc."
    return [Finding("warning", f'column "{scan.reader.columns[scan.soc]}"', text, worst, remedy)]


def of_units(scan: FileScan) -> list[Finding]:
    """Magnitudes that make a unit doubtful.

    Args:
        scan: The pass over the file.
    """
    found = []
    for doubt in implausible_units(scan.magnitudes()):
        place = f'column "{scan.offers[doubt.quantity].column}"' if doubt.quantity in scan.offers else "file"
        remedy = f"Check the unit; the study may state {doubt.quantity}_unit where the header is wrong or silent."
        found.append(Finding("warning", place, doubt.message, doubt.number, remedy))
    return found


def of_charge(scan: FileScan) -> list[Finding]:
    """Charge in both directions and net over the file.

    Args:
        scan: The pass over the file.
    """
    plus, minus = (value / 3600.0 for value in scan.suspects.charge_As)
    if "current" not in scan.offers or scan.offers["current"].unit is None or scan.offers["time"].unit is None:
        return []
    if not 0.0 < plus + minus < float("inf"):
        return []
    text = f"{plus:.4g} Ah flow with positive current and {minus:.4g} Ah with negative, net {plus - minus:+.4g} Ah."
    return [Finding("note", f'column "{scan.offers["current"].column}"', text, plus - minus, "")]


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
