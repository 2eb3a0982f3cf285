"""Why a row cannot be used: the first bad value of it in words, with its place and the remedy."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from lifetime.checks import FloatArray
from lifetime.errors import HistoryError
from lifetime.history.cleaning.value_ranges import in_range, range_in_words
from lifetime.history.formats.number_format import NumberFormat
from lifetime.history.formats.reader import Reader
from lifetime.history.mapping.channels import Channel, drive_channel
from lifetime.units import Quantity

_DROP: Final = 'Repair the row, or ask for clean = ["drop_bad_rows"].'


@dataclass(frozen=True, slots=True)
class BadRow:
    """One row in which a value is bad.

    Args:
        reader: The file.
        row: Row as the chunks number it.
        channels: The columns used.
        roles: The row's value by role, in SI, arrays of length 1.
        quantities: The row's value by quantity, in SI, arrays of length 1.
    """

    reader: Reader
    row: int
    channels: tuple[Channel, ...]
    roles: Mapping[str, FloatArray]
    quantities: Mapping[Quantity, FloatArray]

    def error(self, *, current_from_power: bool) -> HistoryError:
        """What is wrong with the row.

        Args:
            current_from_power: True where the study divides power by voltage.
        """
        for channel in self.channels:
            value = self.roles[channel.role]
            if not in_range(channel.quantity, value).all():
                text = self.reader.field(self.row, channel.position)
                return self._error(_why_bad(channel, float(value[0]), text), channel)
        return self._contradiction(current_from_power=current_from_power)

    def _contradiction(self, *, current_from_power: bool) -> HistoryError:
        """Each column has a number, but together they make no sense."""
        by_role = {channel.role: channel for channel in self.channels}
        drive = drive_channel(self.channels)
        if "mode" in self.roles:
            mode = self.reader.field(self.row, by_role["mode"].position)
            remedy = f'Add "{mode}" to charge_modes, discharge_modes or rest_modes.'
            return self._error(
                f'the mode is "{mode}", which the study does not explain, and current flows.', drive, remedy
            )
        if "charge_current" in self.roles:
            return self._error("a current of the two columns for charging and discharging is negative.", drive)
        if "torque" in self.roles:
            remedy = "Extend map_speed_rpm and map_torque_Nm, or give loss coefficients."
            return self._error("torque or shaft speed is beyond the last point of the efficiency map.", drive, remedy)
        if current_from_power:
            problem = "the voltage is not above zero, so no current follows from the power."
            return self._error(problem, by_role["voltage"])
        if np.isnan(self.quantities["time"]).all():
            problem = "the local time is in the hour that clocks leave out in spring: it does not exist in this zone."
            remedy = "Leave time_zone out if the logger's clock was not put forward, or state the zone of its clock."
            return self._error(problem, by_role["time"], remedy)
        quantity = next(name for name, values in self.quantities.items() if not in_range(name, values).all())
        problem = f"the {quantity} that follows from the row is outside {range_in_words(quantity)}."
        return self._error(problem, by_role.get(quantity, drive))

    def _error(self, problem: str, channel: Channel, remedy: str = _DROP) -> HistoryError:
        file, row = self.reader.place(self.row)
        return HistoryError(problem, file=file, row=row, column=channel.column, remedy=remedy)


def _why_bad(channel: Channel, value: float, text: str) -> str:
    if channel.quantity is None:
        return "is empty, where the mode was expected."
    if np.isfinite(value):
        allowed = range_in_words(channel.quantity)
        return f"{text} {channel.unit.symbol} is outside {allowed}: an error code, or the unit is another."
    if channel.text is not None and text:
        return f'contains "{text}", which does not fit the pattern stated for it.'
    if text.count(",") == 1 and text.replace(",", "").strip("+-").isdigit():
        return f'contains "{text}", a decimal comma, where the rest of the file has decimal points.'
    if text == "" or (NumberFormat().is_number(text) and np.isfinite(float(text))):
        return "is empty, where a number was expected."
    return f'contains "{text}", where a finite number was expected.'
