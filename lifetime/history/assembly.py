"""A history assembled from a stream of samples: surveyed once, gaps settled, record written, blocks at hand."""

from collections.abc import Callable
from pathlib import Path

from lifetime.errors import HistoryError
from lifetime.history.block import Interpolation, on_grid
from lifetime.history.block_sources import KeptBlocks, StreamedBlocks, file_state
from lifetime.history.cleaning.counts import RowCount
from lifetime.history.cleaning.gaps import RestGaps
from lifetime.history.cleaning.sample_stream import SampleStream
from lifetime.history.inspection.gap_words import BRIDGE, REST
from lifetime.history.inspection.survey import Survey
from lifetime.history.mapping.description import description
from lifetime.history.model import History
from lifetime.history.notices import history_notices
from lifetime.history.record import CLEANING, CleaningName, CleaningRecord, CleaningStep


def build_history(
    stream: SampleStream,
    *,
    interpolation: Interpolation,
    ambient_K: float | None,
    sha256: Callable[[], str],
    paths: tuple[Path, ...] = (),
    stated_sign: bool = True,
) -> History:
    """Survey a stream once and make it a history.

    Args:
        stream: The samples.
        interpolation: How values run between samples.
        ambient_K: Air temperature during the measurement [K], or None.
        sha256: Gives the hash of the content.
        paths: The files; none for arrays.
        stated_sign: True where the user stated the sign, False where it is the program's default.

    Raises:
        HistoryError: The samples cannot be used as they are.
    """
    states = tuple(file_state(path, stream.reader.label) for path in paths)
    survey = Survey(stream).run()
    gaps, first_gap_row = survey.steps.gaps()
    between = survey.joint_gaps
    _refuse_coarse_times(survey)
    _refuse_gaps(survey, gaps - between)
    _refuse_rest(survey)
    rests = "rest_in_gaps" in stream.clean
    rest = RestGaps(survey.steps.gap_limit_s, within_files=rests and gaps > between, between_files=between > 0)
    source: KeptBlocks | StreamedBlocks
    if survey.kept is not None:
        source = KeptBlocks(tuple(on_grid(rest.settle(iter(survey.kept)))))
    else:
        source = StreamedBlocks(stream, rest, paths, states)
    quantities = stream.quantities
    record = _record(survey, gaps, first_gap_row)
    return History(
        label=stream.reader.label,
        driven_by=next(name for name in ("current", "power", "speed") if name in quantities),
        interpolation=interpolation,
        has_voltage="voltage" in quantities,
        has_temperature="temperature" in quantities,
        has_speed="speed" in quantities,
        ambient_K=ambient_K,
        samples=survey.samples + 2 * (gaps if rests else between),
        duration_s=survey.duration_s,
        sha256=sha256(),
        data_sha256=survey.data_sha256,
        record=record,
        notices=history_notices(survey, record, stated_sign=stated_sign),
        source=source,
    )


def _refuse_coarse_times(survey: Survey) -> None:
    if not survey.equal_times.are_coarse:
        return
    raise HistoryError(
        f"{survey.edges} of {survey.samples} rows have the time of the row before, and their values move: times are "
        f"written in steps of {survey.steps.median_s:.3g} s, coarser than the rows come, and nothing flows in them.",
        file=survey.stream.reader.label,
        column=survey.stream.channel("time").column,
        remedy='Ask for clean = ["spread_times"], or name a column with finer times.',
    )


def _refuse_gaps(survey: Survey, gaps: int) -> None:
    if not gaps or {"bridge_gaps", "rest_in_gaps"} & survey.stream.clean:
        return
    file, row = survey.stream.reader.place(survey.inner_step_row)
    words = survey.gap_words(survey.steps.gap_charge())
    raise HistoryError(
        f"a gap of {survey.inner_step_s:g} s ends here, the longest of {gaps}; the median step is "
        f"{survey.steps.median_s:g} s, and steps up to ten of them and up to an hour are taken as sampling."
        + ("" if words is None else f"{words.beside}{words.choices}"),
        file=file,
        row=row,
        column=survey.stream.channel("time").column,
        remedy=words.remedy
        if words is not None
        else f"Ask for {REST} if the source rested, or {BRIDGE} if values may run through the gap, as they do when a "
        "logger writes only on change.",
    )


def _refuse_rest(survey: Survey) -> None:
    """Refuse rest where it would delete charge that flows on both sides of the gaps."""
    charge = survey.steps.long_step_charge()
    words = survey.gap_words(charge)
    if "rest_in_gaps" not in survey.stream.clean or charge is None or words is None or not charge.is_flowing:
        return
    file, row = survey.stream.reader.place(survey.inner_step_row)
    without = survey.steps.uneven() is not None and not survey.steps.gaps()[0]
    raise HistoryError(
        f"rest is asked for in gaps in which {survey.flow_quantity} flows, the longest of {survey.inner_step_s:g} s "
        f"ending here.{words.beside}{words.choices}",
        file=file,
        row=row,
        column=survey.stream.channel("time").column,
        remedy='Leave "rest_in_gaps" out: the logger only writes seldom, and values run through.'
        if without
        else words.remedy,
    )


def _record(survey: Survey, gaps: int, first_gap_row: int | None) -> CleaningRecord:
    counts, stream = survey.counts, survey.stream
    cut = stream.reader.unfinished
    done: dict[CleaningName, RowCount] = {
        "drop_bad_rows": counts.bad,
        "drop_unfinished_last_row": RowCount(int(cut), counts.last_row + 1 if cut else None),
        "join_restarts": counts.restarts,
        "sort_by_time": counts.moved,
        "spread_times": counts.spread,
        "drop_spikes": counts.spikes,
        "bridge_gaps": RowCount(gaps - survey.joint_gaps, first_gap_row),
        "rest_in_gaps": RowCount(gaps, first_gap_row),
    }
    return CleaningRecord(
        file_format=stream.reader.file_format,
        details=stream.reader.details,
        columns=tuple(channel.use for channel in stream.channels),
        discharge_is=stream.derivation.discharge_is,
        meaning=description(stream.channels, stream.derivation),
        files=stream.reader.files,
        rows_read=counts.rows_read,
        rows_kept=survey.samples,
        steps=tuple(_step(name, done[name], stream) for name in CLEANING if name in stream.clean),
        median_step_s=survey.steps.median_s,
        gap_limit_s=survey.steps.gap_limit_s,
        gaps=gaps,
        largest_step_s=survey.largest_step_s,
        switching_edges=survey.edges,
    )


def _step(name: CleaningName, done: RowCount, stream: SampleStream) -> CleaningStep:
    return CleaningStep(name, done.rows, None if done.first_row is None else stream.reader.place(done.first_row)[1])
