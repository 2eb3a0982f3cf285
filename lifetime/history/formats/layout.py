"""What a study states about how a file is laid out, where it cannot or should not be found from the content."""

from dataclasses import dataclass, field
from pathlib import Path
from typing import Final

from lifetime.history.formats.number_format import Decimal


@dataclass(frozen=True, slots=True)
class Layout:
    """Statements about a file's layout; what is None is found from the content.

    Args:
        header_row: Row of the column names in a text or a sheet, counted from 1; 0 where there is none.
        decimal: The decimal mark of a text.
        sheet: Name of the sheet in a workbook.
        bus_database: File with the signals of a vehicle bus (DBC), to decode raw frames with.
    """

    header_row: int | None = None
    decimal: Decimal | None = None
    sheet: str | None = None
    bus_database: Path | None = field(default=None)


AS_FOUND: Final = Layout()
