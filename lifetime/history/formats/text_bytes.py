"""A text file as a plain stream of bytes: unpacked where it is compressed, in UTF-8 where it was UTF-16."""

import codecs
import io
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any, Final, Literal

from lifetime.errors import HistoryError, MissingPackageError

Packing = Literal["", "gzip", "zstd"]
Wide = Literal["", "utf-16-le", "utf-16-be"]

_MAGIC: Final[dict[bytes, Packing]] = {b"\x1f\x8b": "gzip", b"\x28\xb5\x2f\xfd": "zstd"}
PACKED: Final = tuple(_MAGIC)
"""How compressed texts begin."""

_PIECE_BYTES: Final = 1 << 20
_SHARE_OF_ZEROS: Final = 0.3
"""Text of two bytes a character has a zero in most of the even or odd places."""


@dataclass(frozen=True, slots=True)
class TextBytes:
    """Where the bytes of a text come from.

    Args:
        path: The file.
        label: Its name as the user gave it.
        packing: How it is compressed.
        wide: "utf-16-le" or "utf-16-be" where a character takes two bytes.
    """

    path: Path
    label: str
    packing: Packing
    wide: Wide

    @classmethod
    def of(cls, path: Path, label: str) -> "TextBytes":
        """Look at the file's first bytes.

        Args:
            path: The file.
            label: Its name as the user gave it.

        Raises:
            HistoryError: The file is compressed and damaged.
            MissingPackageError: It is compressed with Zstandard, and the package for that is not installed.
        """
        with path.open("rb") as file:
            magic = file.read(4)
        packing: Packing = next((name for start, name in _MAGIC.items() if magic.startswith(start)), "")
        plain = cls(path, label, packing, "")
        with plain.open() as file:
            head = plain.read(file, 4096)
        return cls(path, label, packing, _wide(head))

    @property
    def words(self) -> str:
        """Compression in words, with a comma in front; empty for none."""
        return f", {self.packing}-compressed" if self.packing else ""

    def open(self) -> IO[bytes]:
        """Open the stream at its start; reads go through ``read``."""
        if self.packing == "gzip":
            import gzip  # noqa: PLC0415 - rarely needed

            raw: IO[bytes] = gzip.GzipFile(self.path, "rb")  # type: ignore[assignment]
        elif self.packing == "zstd":
            raw = _zstd(self.path, self.label)
        else:
            raw = self.path.open("rb")
        return io.BufferedReader(_Narrowed(raw, self.wide), _PIECE_BYTES) if self.wide else raw

    def read(self, file: IO[bytes], size: int) -> bytes:
        """Read up to ``size`` bytes; fewer only at the end.

        Args:
            file: What ``open`` gave.
            size: Most bytes to read.

        Raises:
            HistoryError: The compressed file is cut or damaged.
        """
        parts, left = [], size
        try:
            while left > 0 and (part := file.read(left)):
                parts.append(part)
                left -= len(part)
        except (EOFError, OSError, ValueError, _zstd_error()) as error:
            raise HistoryError(
                f"the file is cut or damaged ({error or 'unexpected end'}).",
                file=self.label,
                remedy="Copy or export it again.",
            ) from None
        return b"".join(parts)


class _Narrowed(io.RawIOBase):
    """UTF-16 turned into UTF-8 on the way."""

    def __init__(self, raw: IO[bytes], wide: Wide) -> None:
        super().__init__()
        self._raw = raw
        self._decoder = codecs.getincrementaldecoder(wide)(errors="replace")
        self._waiting = b""
        self._first = True

    def readable(self) -> bool:
        return True

    def readinto(self, buffer: Any) -> int:
        while not self._waiting:
            piece = self._raw.read(_PIECE_BYTES)
            text = self._decoder.decode(piece, final=not piece)
            if self._first:
                text, self._first = text.removeprefix("\ufeff"), False
            self._waiting = text.encode()
            if not piece:
                break
        count = min(len(buffer), len(self._waiting))
        buffer[:count] = self._waiting[:count]
        self._waiting = self._waiting[count:]
        return count

    def close(self) -> None:
        self._raw.close()
        super().close()


def _wide(head: bytes) -> Wide:
    if head.startswith(codecs.BOM_UTF16_LE):
        return "utf-16-le"
    if head.startswith(codecs.BOM_UTF16_BE):
        return "utf-16-be"
    even, odd = head[0::2], head[1::2]
    if odd and odd.count(0) > _SHARE_OF_ZEROS * len(odd) and even.count(0) == 0:
        return "utf-16-le"
    if even and even.count(0) > _SHARE_OF_ZEROS * len(even) and odd.count(0) == 0:
        return "utf-16-be"
    return ""


def _zstd(path: Path, label: str) -> IO[bytes]:
    try:
        import zstandard  # noqa: PLC0415 - an optional package
    except ImportError:
        raise MissingPackageError(f"{label}: reading Zstandard-compressed files", "zstandard", "formats") from None
    stream: IO[bytes] = zstandard.open(path, "rb")
    return stream


def _zstd_error() -> type[Exception]:
    """The error class of the package, which is only imported where it was needed."""
    import sys  # noqa: PLC0415

    package = sys.modules.get("zstandard")
    return EOFError if package is None else package.ZstdError
