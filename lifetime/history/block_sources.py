"""Where the blocks of a history come from: memory for a short one, its file for a long one."""

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from lifetime.errors import HistoryError
from lifetime.history.block import Block, on_grid
from lifetime.history.cleaning.gaps import RestGaps
from lifetime.history.cleaning.sample_stream import SampleStream


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
        states: Each file's size and time of change when it was opened.
    """

    stream: SampleStream
    rest: RestGaps
    paths: tuple[Path, ...]
    states: tuple[tuple[int, int], ...]

    def blocks(self) -> Iterator[Block]:
        """Stream all blocks from the first sample to the last.

        Raises:
            HistoryError: The file was changed since it was opened.
        """
        if tuple(file_state(path, self.stream.reader.label) for path in self.paths) != self.states:
            raise HistoryError(
                "the file was changed while it was in use.", file=self.stream.reader.label, remedy="Run again."
            )
        return on_grid(self.rest.settle(self.stream.samples()))


def file_state(path: Path, label: str) -> tuple[int, int]:
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
