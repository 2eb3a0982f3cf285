"""Findings about the sensors: stuck or clipped, spikes, charge drift, state of charge, charge in each direction."""

from collections.abc import Iterator

from lifetime.constants import SECONDS_PER_HOUR
from lifetime.history.inspection.file_scan import FileScan
from lifetime.history.inspection.findings import Finding
from lifetime.history.inspection.words import place_of, with_unit
from lifetime.text import counted, significant

_SOC_TOLERANCE = 0.005
_NO_SOC = 1.5


def sensor_findings(scan: FileScan) -> Iterator[Finding]:
    """Sensors that are stuck, clipped, show spikes or an offset, and a state of charge outside its range.

    Args:
        scan: The pass over the file.
    """
    yield from _stuck_and_clipped(scan)
    yield from _lost(scan)
    yield from _spikes(scan)
    yield from _charge_drift(scan)
    yield from _state_of_charge(scan)


def charge_findings(scan: FileScan) -> Iterator[Finding]:
    """Charge in both directions and net over the file.

    Args:
        scan: The pass over the file.
    """
    current, time = scan.by_role.get("current"), scan.by_role.get("time")
    if current is None or time is None or current.unit is None or time.unit is None:
        return
    positive_Ah, negative_Ah = (charge_As / SECONDS_PER_HOUR for charge_As in scan.checks.charge_As)
    if 0.0 < positive_Ah + negative_Ah < float("inf"):
        net_Ah = positive_Ah - negative_Ah
        message = (
            f"the charge is {significant(positive_Ah)} Ah with positive current and {significant(negative_Ah)} Ah with "
            f"negative, net {significant(net_Ah)} Ah."
        )
        yield Finding("note", place_of(current.column), message, net_Ah, "")


def _stuck_and_clipped(scan: FileScan) -> Iterator[Finding]:
    for quantity, check in scan.checks.stuck_sensors.items():
        column = scan.by_role[quantity].column
        stuck, clipped = check.stuck(), check.clipped()
        if stuck is not None:
            message = (
                f"the {quantity} stays at {with_unit(quantity, stuck.value)} for {stuck.rows} rows while other "
                "channels move: the sensor seems stuck."
            )
            remedy = "Cut these rows out, or use another channel."
            place = place_of(column, scan.reader.place(stuck.first_row)[1])
            yield Finding("warning", place, message, stuck.rows, remedy)
        if clipped is not None:
            message = (
                f"{clipped.rows} rows have exactly the {clipped.extreme} value, {with_unit(quantity, clipped.value)}: "
                "the sensor's range seems to end there."
            )
            remedy = "Check the sensor's range; values beyond it are not in the file."
            yield Finding("warning", place_of(column), message, clipped.rows, remedy)


def _lost(scan: FileScan) -> Iterator[Finding]:
    for lost in scan.checks.lost_signals.lost():
        place = place_of(scan.by_role[lost.quantity].column, scan.reader.place(lost.row)[1])
        remedy = "Cut these rows out, or leave the column out of the study; nothing is cleaned by itself."
        yield Finding("warning", place, f"{lost.message}.", lost.times, remedy)
    hot = scan.checks.lost_signals.hot
    if hot is not None:
        remedy = "Check the unit; the study may state temperature_unit where the header states none."
        yield Finding("warning", place_of(scan.by_role["temperature"].column), f"{hot}.", None, remedy)


def _spikes(scan: FileScan) -> Iterator[Finding]:
    for quantity, spikes in scan.checks.spikes.items():
        place = place_of(scan.by_role[quantity].column, scan.reader.place(spikes.first_row)[1])
        message = (
            f"{counted(spikes.rows, 'spike')} of a single row, the first {with_unit(quantity, spikes.first_value)}."
        )
        remedy = 'Ask for clean = ["drop_spikes"], or repair the rows.'
        yield Finding("warning", place, message, spikes.rows, remedy)


def _charge_drift(scan: FileScan) -> Iterator[Finding]:
    drift = None if scan.checks.charge_drift is None else scan.checks.charge_drift.drift()
    if drift is None:
        return
    message = (
        f"counted charge drifts by {significant(100 * drift.drift_soc)} percentage points from the logged state of "
        f"charge over the file: the current sensor seems to have an offset of {drift.offset_A:+.3g} A."
    )
    remedy = (
        f"Have the sensor checked, or state current_offset_A = {drift.offset_A:.3g} (with the other sign where "
        "discharge is negative)."
    )
    yield Finding("warning", place_of(scan.by_role["current"].column), message, drift.offset_A, remedy)


def _state_of_charge(scan: FileScan) -> Iterator[Finding]:
    limits = scan.checks.soc_range
    if limits is None or scan.soc is None or -_SOC_TOLERANCE <= limits[0] <= limits[1] <= 1.0 + _SOC_TOLERANCE:
        return
    worst = limits[0] if limits[0] < -_SOC_TOLERANCE else limits[1]
    place = place_of(scan.reader.columns[scan.soc])
    if abs(worst) > _NO_SOC:
        message = f"contains {significant(100 * worst)}, so its scale is neither percent nor a fraction."
        yield Finding("note", place, message, 100 * worst, "")
        return
    message = f"the state of charge leaves 0 to 100 % and reaches {significant(100 * worst)} %."
    remedy = "Check the sensor's calibration; a study counts charge from start_soc."
    yield Finding("warning", place, message, worst, remedy)
