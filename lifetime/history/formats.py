"""Which reader reads a file: found from its content, never from its name."""

from pathlib import Path

from lifetime.errors import HistoryError
from lifetime.history import parquet_reader
from lifetime.history.csv_reader import CsvReader
from lifetime.history.parquet_reader import ParquetReader
from lifetime.history.reader import Reader


def reader_for(path: Path, label: str) -> Reader:
    """Open the reader that fits a file.

    Args:
        path: The file.
        label: Its name as the user gave it, for messages.

    Raises:
        HistoryError: The file is missing, a directory, not readable, or in a format not read here.
    """
    try:
        with path.open("rb") as file:
            magic = file.read(len(parquet_reader.MAGIC))
    except FileNotFoundError:
        raise HistoryError(
            "the file does not exist.", file=label, remedy="Check the path; it is relative to the study file."
        ) from None
    except IsADirectoryError:
        raise HistoryError("this is a directory, not a file.", file=label, remedy="Name the file inside it.") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise HistoryError(
            f"the file cannot be read ({reason}).", file=label, remedy="Check its name and its access rights."
        ) from None
    if magic == parquet_reader.MAGIC:
        return ParquetReader.open(path, label)
    return CsvReader.open(path, label)
