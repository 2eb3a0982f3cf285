"""Frames in memory as histories, through the same checks as files."""

from typing import TYPE_CHECKING

from lifetime.history.cleaning.sample_stream import SampleStream
from lifetime.history.formats.frame_reader import FrameReader
from lifetime.history.model import History
from lifetime.history.open import surveyed_history
from lifetime.history.spec import HistoryInput

if TYPE_CHECKING:
    import pandas as pd


def open_frame(spec: HistoryInput, frame: "pd.DataFrame", *, series: int = 1, parallel: int = 1) -> History:
    """Make a frame a history, as a study describes it.

    Args:
        spec: The description; ``file`` is what messages call the frame.
        frame: One row a sample.
        series: Cells in series of the pack, for quantities of one cell.
        parallel: Cells in parallel of the pack, for quantities of one cell.

    Raises:
        HistoryError: The frame cannot be read as the study says.
    """
    reader = FrameReader.of(frame, spec.file)
    stream = SampleStream.of_spec(spec, reader, series=series, parallel=parallel)
    return surveyed_history(spec, stream, paths=(), sha256=reader.sha256)
