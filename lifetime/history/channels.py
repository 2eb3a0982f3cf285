"""From the names in a study to columns of a file, each with its quantity and its unit."""

import difflib
from dataclasses import dataclass
from typing import Literal

from lifetime.errors import HistoryError
from lifetime.history.reader import Reader
from lifetime.history.record import ColumnUse
from lifetime.history.spec import HistoryInput
from lifetime.units import QUANTITIES, Quantity, Unit, unit_of_column


@dataclass(frozen=True, slots=True)
class Channel:
    """One column of a file and what it serves as.

    Args:
        quantity: What it is.
        column: Its name in the file.
        position: Its position in the file, from 0.
        unit: Its unit in the file.
        unit_from: Who named the unit.
    """

    quantity: Quantity
    column: str
    position: int
    unit: Unit
    unit_from: Literal["header", "study", "caller"]

    @property
    def use(self) -> ColumnUse:
        """The channel as it stands in the record."""
        return ColumnUse(self.quantity, self.column, self.unit.symbol, self.unit_from)


def find_channels(spec: HistoryInput, reader: Reader) -> tuple[Channel, ...]:
    """Find the columns a study names, and settle their units.

    Args:
        spec: The study's description of the history.
        reader: The file.

    Raises:
        HistoryError: A column is missing, its name occurs twice, or its unit is unknown or contradictory.
    """
    found = []
    for quantity in QUANTITIES:
        name = spec.column(quantity)
        if name is None:
            continue
        position = _position(name, quantity, reader)
        stated = spec.stated_unit(quantity)
        unit = unit_of_column(name, quantity, stated, file=reader.label)
        found.append(Channel(quantity, name, position, unit, "header" if stated is None else "study"))
    return tuple(found)


def _position(name: str, quantity: Quantity, reader: Reader) -> int:
    columns = reader.columns
    count = columns.count(name)
    if count == 1:
        return columns.index(name)
    if count > 1:
        raise HistoryError(
            f"the name stands over {count} columns, so it is not clear which one holds the {quantity}.",
            file=reader.label,
            column=name,
            remedy="Rename the column in the file so that its name is unique.",
        )
    listed = ", ".join(f'"{column}"' for column in columns)
    if any(looks_like_number(column) for column in columns):
        remedy = "The first row holds numbers, so the header seems to be missing: put column names into the first row."
    else:
        folded = {column.casefold(): column for column in reversed(columns)}
        near = difflib.get_close_matches(name.casefold(), folded, n=1, cutoff=0.5)
        remedy = f'Did you mean "{folded[near[0]]}"?' if near else "Name one of these columns."
    raise HistoryError(
        f"there is no such column for {quantity}. The file has {listed}.",
        file=reader.label,
        column=name,
        remedy=remedy,
    )


def looks_like_number(text: str) -> bool:
    """Tell whether a column name is a number, as it is where the header is missing.

    Args:
        text: A column name.
    """
    try:
        float(text)
    except ValueError:
        return False
    return True
