"""The suggested study entry tried: it is opened as a study would, before anybody sees it."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

from pydantic import ValidationError

from lifetime.errors import HistoryError
from lifetime.history.cleaning.sample_stream import SampleStream
from lifetime.history.formats.reader import Reader
from lifetime.history.inspection.survey import Survey
from lifetime.history.mapping.column_suggestions import ColumnSuggestion
from lifetime.history.spec import HistoryInput

OPEN: Final = "?"
"""What a person fills in."""

_STAND_INS: Final = {
    "time_unit": "s",
    "current_unit": "A",
    "power_unit": "W",
    "voltage_unit": "V",
    "temperature_unit": "°C",
    "speed_unit": "km/h",
    "torque_unit": "N·m",
    "shaft_speed_unit": "rpm",
    "discharge_is": "positive",
}
"""Values for what only a person knows; whether the entry can be read does not depend on them."""


@dataclass(frozen=True, slots=True)
class EntryTrial:
    """What came of opening the suggested entry.

    Args:
        fault: Why a study refuses it as it stands; None where it is read.
        is_usable: False where its keys do not fit the file, whatever the rows contain.
    """

    fault: HistoryError | None
    is_usable: bool


def try_entry(
    keys: Mapping[str, str | list[str]], suggestions: tuple[ColumnSuggestion, ...], reader: Reader
) -> EntryTrial:
    """Open the suggested entry and read it to its end.

    Args:
        keys: As ``suggested_keys`` gave them; what a person fills in is filled with a stand-in.
        suggestions: The suggested columns.
        reader: The file.
    """
    patterns = {f"{column.role}_format": column.patterns[0] for column in suggestions if column.patterns}
    stand_ins = {**_STAND_INS, **patterns}
    filled = {key: stand_ins.get(key, value) if value == OPEN else value for key, value in keys.items()}
    if OPEN in filled.values():
        return EntryTrial(None, is_usable=True)  # a column is still to be chosen, so nothing can be read
    try:
        stream = SampleStream.of_spec(HistoryInput.model_validate(filled), reader)
    except ValidationError as error:
        problem = error.errors()[0]["msg"].removeprefix("Value error, ")
        return EntryTrial(HistoryError(f"{problem}.", file=reader.label, remedy="Name other columns."), is_usable=False)
    except HistoryError as error:
        return EntryTrial(error, is_usable=False)
    try:
        Survey(stream).run()
    except HistoryError as error:
        in_stand_in = {keys.get(key.removesuffix("_unit")) for key, value in keys.items() if value == OPEN}
        return EntryTrial(None if error.column in in_stand_in else error, is_usable=True)  # there a value means nothing
    return EntryTrial(None, is_usable=True)
