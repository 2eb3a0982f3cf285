"""What happens in gaps between samples: rest, where the study or the end of a file says so."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from lifetime.history.block import IntArray, Samples, file_of, join


@dataclass(frozen=True, slots=True)
class RestGaps:
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


def rest_in_gaps(
    stream: Iterator[Samples], gap_limit_s: float, *, only_between_files: bool = False
) -> Iterator[Samples]:
    """Take current or power as zero in gaps, by a zero sample at both sides of each.

    The added samples have the times of their neighbours, so the change to zero and back takes no time; voltage
    and temperature keep the neighbours' values.

    Args:
        stream: Samples in order of time.
        gap_limit_s: Steps of this length [s] or longer are gaps.
        only_between_files: Leave gaps within a file as they are.
    """
    last: Samples | None = None
    for stretch in stream:
        together = stretch if last is None else join([last, stretch])
        fresh = 0 if last is None else 1  # the last sample of the stretch before has been given already
        gaps = np.flatnonzero(np.diff(together.time_s) >= gap_limit_s)
        if only_between_files:
            gaps = gaps[file_of(together.rows[gaps]) != file_of(together.rows[gaps + 1])]
        last = together.take(slice(together.size - 1, None))
        if gaps.size:
            together = _with_zeros(together, gaps)
        yield together.take(slice(fresh, None))


def _with_zeros(samples: Samples, gaps: IntArray) -> Samples:
    sides = np.column_stack([gaps, gaps + 1]).reshape(-1)
    order = np.insert(np.arange(samples.size), np.repeat(gaps + 1, 2), sides)
    added = np.repeat(gaps + 1 + 2 * np.arange(gaps.size), 2)
    added[1::2] += 1
    widened = samples.take(order)  # a copy, free to be written
    for quantity in ("current", "power"):
        if quantity in widened.channels:
            widened.channels[quantity][added] = 0.0
    return widened
