"""How a study names a history: file, columns, units, sign, cleaning."""

from typing import Annotated, Any, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, field_validator, model_validator

from lifetime.history.block import Interpolation
from lifetime.history.record import CleaningName
from lifetime.units import QUANTITIES, Quantity, known_units, named_unit

Name = Annotated[str, Field(min_length=1)]


class HistoryInput(BaseModel):
    """One history as a study file describes it; unknown keys are errors.

    Args:
        file: Path of the file, relative to the study file.
        time: Column with the time, seconds since any instant or any other unit of time.
        current: Column with the current; exactly one of ``current`` and ``power`` is given.
        power: Column with the power.
        voltage: Column with the terminal voltage, optional.
        temperature: Column with the measured temperature, optional.
        discharge_is: Sign of current or power in the file while the source discharges.
        interpolation: How values run between samples: straight, or held until the next sample.
        ambient_C: Air temperature during the measurement [°C], -60 to 60; with it measured temperatures can be
            shifted with the season.
        clean: Cleaning steps asked for; see ``lifetime.history.record.CLEANING``.
        time_unit: Unit of the time column where its header names none.
        current_unit: Unit of the current column where its header names none.
        power_unit: Unit of the power column where its header names none.
        voltage_unit: Unit of the voltage column where its header names none.
        temperature_unit: Unit of the temperature column where its header names none.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    file: Name
    time: Name
    current: Name | None = None
    power: Name | None = None
    voltage: Name | None = None
    temperature: Name | None = None
    discharge_is: Literal["positive", "negative"] = "positive"
    interpolation: Interpolation = "straight"
    ambient_C: Annotated[float, Field(ge=-60.0, le=60.0, allow_inf_nan=False)] | None = None
    clean: tuple[CleaningName, ...] = ()
    time_unit: str | None = None
    current_unit: str | None = None
    power_unit: str | None = None
    voltage_unit: str | None = None
    temperature_unit: str | None = None

    def column(self, quantity: Quantity) -> str | None:
        """Name of the column that holds a quantity, or None.

        Args:
            quantity: Which.
        """
        name: str | None = getattr(self, quantity)
        return None if name is None else name.strip()

    def stated_unit(self, quantity: Quantity) -> str | None:
        """The study's own word on a column's unit, or None.

        Args:
            quantity: Which.
        """
        unit: str | None = getattr(self, f"{quantity}_unit")
        return unit

    @field_validator("time_unit", "current_unit", "power_unit", "voltage_unit", "temperature_unit")
    @classmethod
    def _unit_is_known(cls, value: str | None, info: Any) -> str | None:
        if value is None:
            return None
        quantity: Quantity = info.field_name.removesuffix("_unit")
        unit = named_unit(value)
        if unit is None or unit.quantity != quantity:
            raise ValueError(f'"{value}" is no unit of {quantity}; known are {", ".join(known_units(quantity))}')
        return value

    @field_validator("clean")
    @classmethod
    def _clean_is_consistent(cls, value: tuple[CleaningName, ...]) -> tuple[CleaningName, ...]:
        if len(set(value)) != len(value):
            raise ValueError("each cleaning step may be named once")
        if "bridge_gaps" in value and "rest_in_gaps" in value:
            raise ValueError("bridge_gaps and rest_in_gaps contradict each other; name one")
        return value

    @model_validator(mode="after")
    def _columns_fit(self) -> Self:
        if (self.current is None) == (self.power is None):
            raise ValueError("name exactly one of the keys current and power")
        for quantity in QUANTITIES:
            if self.column(quantity) is None and self.stated_unit(quantity) is not None:
                raise ValueError(f"{quantity}_unit is given, but no column for {quantity}")
        names = [name for quantity in QUANTITIES if (name := self.column(quantity)) is not None]
        for name in names:
            if names.count(name) > 1:
                raise ValueError(f'column "{name}" is named for two quantities')
        return self
