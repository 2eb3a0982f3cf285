"""From the names in a study to columns of a file, each with its role, its quantity and its unit."""

import difflib
from dataclasses import dataclass
from typing import Literal

from lifetime.errors import HistoryError
from lifetime.history.formats.reader import Reader
from lifetime.history.formats.text_values import TextValues
from lifetime.history.mapping.modes import Modes
from lifetime.history.mapping.timestamps import Timestamps, fitting_patterns
from lifetime.history.record import ColumnUse
from lifetime.history.spec import HistoryInput
from lifetime.units import Quantity, Unit, unit_of_column

SECOND = Unit("s", "time")
WORDS = Unit("words", "time")
_LISTED = 20
_DRIVES = ("current", "charge_current", "power", "phase_current_1", "torque", "speed")


@dataclass(frozen=True, slots=True)
class Channel:
    """One column of a file and what it serves as.

    Args:
        role: What it serves as: a quantity, or something a quantity is made from, such as "charge_current".
        quantity: What its numbers are; None for words.
        column: Its name in the file.
        position: Its position in the file, from 0.
        unit: Its unit in the file.
        unit_from: Who named the unit.
        text: How its text becomes numbers, or None where it contains numbers.
    """

    role: str
    quantity: Quantity | None
    column: str
    position: int
    unit: Unit
    unit_from: Literal["header", "study", "caller", "format"]
    text: TextValues | None = None

    @property
    def use(self) -> ColumnUse:
        """The channel as it is in the record."""
        return ColumnUse(self.role, self.column, self.unit.symbol, self.unit_from)


def drive_channel(channels: tuple[Channel, ...]) -> Channel:
    """The first column that current, power or speed is made from.

    Args:
        channels: All channels of a history; one of them is a drive.
    """
    by_role = {channel.role: channel for channel in channels}
    return next(by_role[role] for role in _DRIVES if role in by_role)


def find_channels(spec: HistoryInput, reader: Reader) -> tuple[Channel, ...]:
    """Find the columns a study names, and settle their units.

    Args:
        spec: The study's description of the history.
        reader: The file.

    Raises:
        HistoryError: A column is missing, its name occurs twice, or its unit is unknown or contradictory.
    """
    channels = []
    for role, (name, quantity) in spec.columns().items():
        position = _position(name, role, reader)
        if quantity is None:
            modes = Modes(spec.discharge_modes or (), spec.charge_modes or (), spec.rest_modes or ())
            channels.append(Channel(role, None, name, position, WORDS, "study", modes))
        elif quantity == "time":
            channels.append(_time_channel(spec, role, name, position, reader))
        else:
            channels.append(_measured(spec, role, quantity, name, position, reader))
    _require_same_rows(channels, reader)
    return tuple(channels)


def _measured(spec: HistoryInput, role: str, quantity: Quantity, name: str, position: int, reader: Reader) -> Channel:
    if position in reader.seconds:
        raise HistoryError(
            f"contains times, where numbers were expected for {role}.",
            file=reader.label,
            column=name,
            remedy="Name another column.",
        )
    stated = spec.stated_unit(quantity)
    unit = unit_of_column(name, quantity, stated, file=reader.label)
    return Channel(role, quantity, name, position, unit, "header" if stated is None else "study")


def _time_channel(spec: HistoryInput, role: str, name: str, position: int, reader: Reader) -> Channel:
    pattern = spec.date_format if role == "date" else spec.time_format
    if position in reader.seconds:
        return Channel(role, "time", name, position, SECOND, "format")
    if pattern is not None:
        stamps = Timestamps(pattern, local=spec.time_zone is not None)
        return Channel(role, "time", name, position, SECOND, "study", stamps)
    if position not in reader.number_columns():
        _refuse_stamps(name, position, reader)
    return _measured(spec, role, "time", name, position, reader)


def _refuse_stamps(name: str, position: int, reader: Reader) -> None:
    """Say which patterns fit where a column of times contains text; choosing one is the user's business."""
    sample = reader.text_sample(position)
    patterns = fitting_patterns(sample)
    if not patterns:
        return  # reading will name the first row that contains no number
    suggested = " or ".join(f'time_format = "{pattern}"' for pattern in patterns)
    which = "fits" if len(patterns) == 1 else "all fit, and only you know which is meant"
    raise HistoryError(
        f'contains timestamps such as "{sample[0]}", where numbers were expected.',
        file=reader.label,
        column=name,
        remedy=f"Add {suggested} to the study ({which}).",
    )


def _require_same_rows(channels: list[Channel], reader: Reader) -> None:
    """Refuse columns that do not run side by side, as in files that hold many arrays."""
    together = reader.together(channels[0].position)
    if together is None:
        return
    for channel in channels[1:]:
        if channel.position not in together:
            raise HistoryError(
                f'does not run side by side with "{channels[0].column}": the two have other lengths or other times.',
                file=reader.label,
                column=channel.column,
                remedy="Name columns of one table, or put them on one time base where they were recorded.",
            )


def _position(name: str, role: str, reader: Reader) -> int:
    columns = reader.columns
    count = columns.count(name)
    if count == 1:
        return columns.index(name)
    if count > 1:
        raise HistoryError(
            f"{count} columns have this name, so it is not clear which one is the {role}.",
            file=reader.label,
            column=name,
            remedy="Rename the column in the file so that its name is unique.",
        )
    listed = ", ".join(f'"{column}"' for column in columns[:_LISTED])
    if len(columns) > _LISTED:
        listed += f" and {len(columns) - _LISTED} more"
    if all(column == f"column {number}" for number, column in enumerate(columns, start=1)):
        remedy = 'The file has no header; its columns are called "column 1", "column 2" and so on.'
    else:
        folded = {column.casefold(): column for column in reversed(columns)}
        starting = [column for column in columns if column.casefold().startswith(name.casefold())]
        near = starting or [folded[match] for match in difflib.get_close_matches(name.casefold(), folded, 1, 0.5)]
        remedy = f'Did you mean "{near[0]}"?' if near else "Name one of these columns."
    raise HistoryError(
        f"there is no such column for {role}. The file has {listed}.",
        file=reader.label,
        column=name,
        remedy=remedy,
    )
