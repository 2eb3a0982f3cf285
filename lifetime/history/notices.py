"""What a history has to say about itself, as notices."""

from typing import Final

from lifetime.history.inspection.survey import Survey
from lifetime.history.record import CleaningName, CleaningRecord, CleaningStep
from lifetime.notices import Notice, Severity

_STEP_WORDS: Final[dict[CleaningName, tuple[str, Severity]]] = {
    "drop_bad_rows": ("{count} rows with bad values were left out, the first in row {row}", "warning"),
    "drop_unfinished_last_row": ("the last row, row {row}, has no line end and was left out", "note"),
    "join_restarts": ("the clock was set back {count} times and time continues there, first in row {row}", "warning"),
    "drop_spikes": ("{count} rows with spikes were left out, the first in row {row}", "warning"),
    "sort_by_time": ("{count} rows came after a later time and were put in order, the first in row {row}", "warning"),
    "spread_times": ("{count} rows of one time were spaced evenly up to the next, the first in row {row}", "warning"),
    "bridge_gaps": ("values are interpolated through {count} gaps, the first ending in row {row}", "warning"),
    "rest_in_gaps": ("{count} gaps are read as rest, the first ending in row {row}", "warning"),
}


def history_notices(survey: Survey, record: CleaningRecord, *, stated_sign: bool) -> tuple[Notice, ...]:
    """Collect all notices of a history.

    Args:
        survey: What the first pass found.
        record: What was read and changed.
        stated_sign: True where the user stated the sign of discharge.
    """
    label = survey.stream.reader.label
    notices = [_sign(survey, record, stated=stated_sign)] if record.file_format != "arrays" else []
    if record.details:
        notices.append(Notice("read_as", f"{label}: read as {record.file_format}, {record.details}.", "note"))
    cut_settled = "drop_unfinished_last_row" in survey.stream.clean
    notices += [n for n in survey.stream.reader.notices if not (cut_settled and n.code == "unfinished_last_row")]
    notices += [_step(label, step) for step in record.steps if step.count]
    notices += [Notice("read_with", f"{label}: {sentence}", "note") for sentence in record.meaning]
    notices += _several_files(survey)
    notices += _sign_agrees(survey)
    notices += _drive(survey)
    notices += _current_shape(survey)
    notices += _signals(survey)
    if survey.edges:
        text = f"{label}: {survey.edges} steps take no time; they are read as switching edges."
        notices.append(Notice("switching_edges", text, "note"))
    notices += _uneven_steps(survey)
    if survey.is_time_coarse:
        text = (
            f"{label}: times are stored as 32-bit floats and are right to {survey.time_resolution_s:g} s only, against "
            f"a median step of {survey.steps.median_s:g} s."
        )
        notices.append(Notice("coarse_time", text))
    return tuple(notices)


def _sign(survey: Survey, record: CleaningRecord, *, stated: bool) -> Notice:
    drive = survey.stream.drive
    if drive.role == "speed":
        text = f'{survey.stream.reader.label}: the speed in "{drive.column}" becomes a power by the study\'s vehicle.'
        return Notice("speed_demand", text, "note")
    if drive.role not in ("current", "power", "torque") or any(use.quantity == "mode" for use in record.columns):
        text = f'{survey.stream.reader.label}: {drive.role} in "{drive.column}" carries no sign of its own.'
        return Notice("discharge_sign", text, "note")
    origin = "as stated" if stated else "the default, as nothing was stated"
    return Notice(
        "discharge_sign",
        f'{survey.stream.reader.label}: {drive.role} in "{drive.column}" is read as {record.discharge_is} when '
        f"the source discharges ({origin}).",
        "note",
    )


def _step(label: str, step: CleaningStep) -> Notice:
    words, severity = _STEP_WORDS[step.name]
    return Notice(step.name, f"{label}: {words.format(count=step.count, row=step.first_row)}.", severity)


def _current_shape(survey: Survey) -> list[Notice]:
    """Warn of a current that is no source's: one that alternates, or one whose direction is missing."""
    label, column = survey.stream.reader.label, survey.stream.drive.column
    alternation = survey.alternation.alternation()
    notices = []
    if alternation is not None:
        text = (
            f'{label}: the current in "{column}" alternates around zero at {alternation.frequency_Hz:.3g} Hz with '
            f"{alternation.rms:.3g} A rms. It is no direct current of a battery or an ultracapacitor, and its ageing "
            "means nothing. Name the direct current; for a machine's phases name phase_currents with phase_voltages."
        )
        notices.append(Notice("alternating_current", text))
    if survey.direction.is_unsigned:
        text = (
            f'{label}: the current in "{column}" never changes sign while the voltage rises and falls under it. Its '
            "direction is missing, so that charge is counted as discharge. Name the column that tells them apart as "
            "mode, with charge_modes and discharge_modes, or export a signed current."
        )
        notices.append(Notice("unsigned_current", text))
    return notices


def _signals(survey: Survey) -> list[Notice]:
    """Warn of signals that were lost for a while, and of a temperature that no pack is used at."""
    reader, signals = survey.stream.reader, survey.lost_signals
    notices = [
        Notice("lost_signal", f"{reader.label}, row {reader.place(lost.row)[1]}: {lost.message}. Cut these rows out.")
        for lost in signals.lost()
    ]
    if signals.hot is not None:
        notices.append(Notice("hot_measurement", f"{reader.label}: {signals.hot}. Check temperature_unit."))
    return notices


def _several_files(survey: Survey) -> list[Notice]:
    files = survey.stream.reader.files
    if not files:
        return []
    label = survey.stream.reader.label
    text = f"{label}: {len(files)} files make one history, from {files[0]} to {files[-1]}"
    gaps = survey.joint_gaps
    if gaps:
        text += f"; the source rests in {gaps} {'gap' if gaps == 1 else 'gaps'} between them"
    notices = [Notice("several_files", text + ".", "note")]
    for first, again in survey.repeated_files.repeated(files):
        text = (
            f"{label}: {again} has the same samples as {first}, so that their charge counts twice. Name each log once."
        )
        notices.append(Notice("repeated_file", text))
    return notices


def _uneven_steps(survey: Survey) -> list[Notice]:
    found = survey.steps.uneven()
    words = None if found is None else survey.gap_words(found[1])
    if found is None or words is None:
        return []
    text = (
        f"{survey.stream.reader.label}: the step is uneven; {found[0]} steps are longer than ten median steps of "
        f"{survey.steps.median_s:.3g} s. Values are linear through them, and they contain {words.within}."
    )
    return [Notice("uneven_steps", text, "note")]


def _sign_agrees(survey: Survey) -> list[Notice]:
    """Compare the stated sign with the voltage's response."""
    shown = survey.sign.by_voltage
    if shown is None:
        return []
    label, drive = survey.stream.reader.label, survey.stream.drive
    if shown == "positive":
        text = f'{label}: the voltage falls when "{drive.column}" discharges, which agrees with the sign read.'
        return [Notice("sign_agrees", text, "note")]
    text = (
        f'{label}: the voltage rises when "{drive.column}" is read as discharging. The sign is probably the '
        "opposite; check discharge_is, and that the columns belong to one source."
    )
    return [Notice("sign_disagrees", text)]


def _drive(survey: Survey) -> list[Notice]:
    label = survey.stream.reader.label
    for quantity, unit in (("current", "A"), ("power", "W")):
        if quantity not in survey.ranges:
            continue
        low, high = survey.ranges[quantity]
        if low != high:
            continue
        if low == 0.0:
            return [Notice("all_rest", f"{label}: {quantity} is zero throughout; the source rests.", "note")]
        text = f"{label}: {quantity} stays at {low:g} {unit} throughout; the sensor may be stuck."
        return [Notice(f"constant_{quantity}", text)]
    return []
