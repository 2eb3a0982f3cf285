"""Texts of a file that is read in pieces stay with their rows."""

import numpy as np

from lifetime.history.formats.reader import Chunk
from webapi.store.table_source import _Fields


def test_texts_of_pieces_that_are_done_in_another_order_stay_with_their_rows():
    """Two pieces of a text file are read at a time: the later one may be done first, and both may be equally long."""
    fields = _Fields()
    later, first = fields.numbers(["c", "d"]), fields.numbers(["a", "b"])
    assert fields.take(Chunk(np.arange(2), (first,)), first) == ["a", "b"]
    assert fields.take(Chunk(np.arange(2), (later,)), later) == ["c", "d"]
