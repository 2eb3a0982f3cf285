"""From a surveyed stream to a history: gaps settled, record written, blocks at hand."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from lifetime.errors import HistoryError
from lifetime.history import remarks
from lifetime.history.block import Block, Interpolation, Samples, on_grid
from lifetime.history.clean import SampleStream
from lifetime.history.gaps import rest_in_gaps
from lifetime.history.meaning import meaning
from lifetime.history.model import History
from lifetime.history.record import CLEANING, CleaningName, CleaningRecord, CleaningStep
from lifetime.history.survey import Survey


@dataclass(frozen=True, slots=True, eq=False)
class KeptBlocks:
    """Blocks of a short history, kept in memory.

    Args:
        kept: All of them.
    """

    kept: tuple[Block, ...]

    def blocks(self) -> Iterator[Block]:
        """Give all blocks from the first sample to the last."""
        return iter(self.kept)


@dataclass(frozen=True, slots=True, eq=False)
class StreamedBlocks:
    """Blocks of a long history, read from its file each time.

    Args:
        stream: The samples.
        rest: How gaps are settled.
        paths: The files; none for arrays.
        stamps: Each file's size and time of change when it was opened.
    """

    stream: SampleStream
    rest: "Rest"
    paths: tuple[Path, ...]
    stamps: tuple[tuple[int, int], ...]

    def blocks(self) -> Iterator[Block]:
        """Stream all blocks from the first sample to the last.

        Raises:
            HistoryError: The file was changed since it was opened.
        """
        if tuple(stamp_of(path, self.stream.reader.label) for path in self.paths) != self.stamps:
            raise HistoryError(
                "the file was changed while it was in use.", file=self.stream.reader.label, remedy="Run again."
            )
        return on_grid(self.rest.settle(self.stream.samples()))


@dataclass(frozen=True, slots=True)
class Rest:
    """Which gaps are rest.

    Args:
        limit_s: Steps of this length [s] or longer are gaps.
        within_files: Whether the source rests in gaps within a file.
        between_files: Whether it rests in gaps between two files.
    """

    limit_s: float
    within_files: bool
    between_files: bool

    def settle(self, samples: Iterator[Samples]) -> Iterator[Samples]:
        """Put zeros where the source rested.

        Args:
            samples: In order of time.
        """
        if not self.within_files and not self.between_files:
            return samples
        return rest_in_gaps(samples, self.limit_s, only_between_files=not self.within_files)


def stamp_of(path: Path, label: str) -> tuple[int, int]:
    """Size [byte] and time of change [ns] of a file.

    Args:
        path: The file.
        label: Its name as the user gave it.

    Raises:
        HistoryError: The file is gone.
    """
    try:
        status = path.stat()
    except OSError as error:
        raise HistoryError(
            f"the file can no longer be read ({error.strerror}).", file=label, remedy="Put it back and run again."
        ) from None
    return status.st_size, status.st_mtime_ns


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
    stamps = tuple(stamp_of(path, stream.reader.label) for path in paths)
    survey = Survey(stream).run()
    gaps, first_gap_row = survey.steps.gaps()
    between = survey.joint_gaps
    _refuse_gaps(survey, gaps - between)
    rests = "rest_in_gaps" in stream.clean
    rest = Rest(survey.steps.gap_limit_s, within_files=rests and gaps > between, between_files=between > 0)
    source: KeptBlocks | StreamedBlocks
    if survey.kept is not None:
        source = KeptBlocks(tuple(on_grid(rest.settle(iter(survey.kept)))))
    else:
        source = StreamedBlocks(stream, rest, paths, stamps)
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
        notices=remarks.notices(survey, record, stated_sign=stated_sign),
        source=source,
    )


def _refuse_gaps(survey: Survey, gaps: int) -> None:
    if not gaps or {"bridge_gaps", "rest_in_gaps"} & survey.stream.clean:
        return
    file, row = survey.stream.reader.place(survey.inner_step_row)
    raise HistoryError(
        f"a gap of {survey.inner_step_s:g} s ends here, the longest of {gaps}; the median step is "
        f"{survey.steps.median_s:g} s, and steps up to ten of them and up to an hour are taken as sampling.",
        file=file,
        row=row,
        column=survey.stream.channel("time").column,
        remedy='Ask for clean = ["rest_in_gaps"] if the source rested, or clean = ["bridge_gaps"] if values may run '
        "through the gap, as they do when a logger writes only on change.",
    )


def _record(survey: Survey, gaps: int, first_gap_row: int | None) -> CleaningRecord:
    tally, stream = survey.tally, survey.stream
    cut = stream.reader.unfinished
    gap_row = None if first_gap_row is None else stream.reader.place(first_gap_row)[1]
    done: dict[CleaningName, tuple[int, int | None]] = {
        "drop_bad_rows": (tally.bad_rows, tally.first_bad_row),
        "drop_unfinished_last_row": (int(cut), tally.last_row + 1 if cut else None),
        "join_restarts": (tally.restarts.rows, tally.restarts.first_row),
        "sort_by_time": (tally.moved.rows, tally.moved.first_row),
        "drop_spikes": (tally.spikes.rows, tally.spikes.first_row),
        "bridge_gaps": (gaps - survey.joint_gaps, gap_row),
        "rest_in_gaps": (gaps, gap_row),
    }
    return CleaningRecord(
        file_format=stream.reader.file_format,
        details=stream.reader.details,
        columns=tuple(channel.use for channel in stream.channels),
        discharge_is=stream.derivation.discharge_is,
        meaning=meaning(stream),
        files=stream.reader.files,
        rows_read=tally.rows_read,
        rows_kept=survey.samples,
        steps=tuple(_step(name, *done[name], stream) for name in CLEANING if name in stream.clean),
        median_step_s=survey.steps.median_s,
        gap_limit_s=survey.steps.gap_limit_s,
        gaps=gaps,
        largest_step_s=survey.largest_step_s,
        switching_edges=survey.edges,
    )


def _step(name: CleaningName, count: int, row: int | None, stream: SampleStream) -> CleaningStep:
    return CleaningStep(name, count, None if row is None else stream.reader.place(row)[1])
