"""A text in pieces of whole lines, so that a file of any length is read in fixed memory."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import IO, Final

from lifetime.errors import HistoryError
from lifetime.history.formats.text_bytes import TextBytes

PIECE_BYTES: Final = 1 << 22
_LONGEST_LINE_BYTES: Final = 1 << 26


@dataclass(frozen=True, slots=True)
class LinePiece:
    """Whole lines of a text.

    Args:
        text: Their bytes, each with its line end.
        row: Row of the first.
        lines: How many line ends they contain.
    """

    text: bytes
    row: int
    lines: int


@dataclass(frozen=True, slots=True)
class LinePieces:
    """The lines of a text from a place on.

    Args:
        source: Gives the bytes.
        start: Byte of the unpacked text at which the first line begins.
        row: Row of that line.
    """

    source: TextBytes
    start: int
    row: int

    def pieces(self, *, drop_unended: bool = False, piece_bytes: int = PIECE_BYTES) -> Iterator[LinePiece]:
        """Stream the lines.

        Args:
            drop_unended: Leave out a last line without a line end.
            piece_bytes: Bytes read at a time.

        Raises:
            HistoryError: A line is longer than 64 MB, or a packed text is damaged.
        """
        row, carried = self.row, b""
        with self.source.open() as file:
            self._skip(file)
            while True:
                read = self.source.read(file, piece_bytes)
                text = carried + read
                end = text.rfind(b"\n") + 1
                if not read:
                    text = b"" if drop_unended and text else text + b"\n" if text else text
                    end = len(text)
                carried = text[end:]
                self._refuse_endless(carried, row)
                if end:
                    whole = text[:end]
                    lines = whole.count(b"\n")
                    yield LinePiece(whole, row, lines)
                    row += lines
                if not read:
                    return

    def _skip(self, file: IO[bytes]) -> None:
        """Go to the first line; a compressed or recoded text has to be read up to there."""
        if self.source.packing or self.source.wide:
            self.source.read(file, self.start)
        else:
            file.seek(self.start)

    def _refuse_endless(self, unended: bytes, row: int) -> None:
        if len(unended) > _LONGEST_LINE_BYTES:
            raise HistoryError(
                "a line is longer than 64 MB, so this is not a table.",
                file=self.source.label,
                row=row,
                remedy="Check the file.",
            )
