"""Sections of a study file on what the battery may be loaded with, and how its resistance behaves."""

from typing import Annotated

from pydantic import Field, model_validator

from lifetime.errors import NumberError
from lifetime.keys import about
from lifetime.packs.current_table import DURATIONS, CurrentTable
from lifetime.ranges import Fraction, Watts
from lifetime.section import Section

_Rates = Annotated[tuple[Annotated[float, Field(ge=0.0, le=1e3)], ...], Field(max_length=100, strict=False)]
_Edges = Annotated[tuple[Annotated[float, Field(ge=-60.0, le=100.0)], ...], Field(max_length=100, strict=False)]


class CurrentLimits(Section):
    """Most current in one direction, in steps of temperature and state of charge."""

    temperature_C: Annotated[
        _Edges,
        Field(min_length=1),
        about(
            "Temperature of the steps",
            "Lower edge of each step; a step's values hold up to the next, and below the first no current is allowed.",
            unit="°C",
            example=[-30.0, 0.0, 10.0],
        ),
    ]
    continuous: Annotated[
        _Rates | None,
        about(
            "Continuous",
            "Largest mean over 300 s in each step, over rated capacity; no limit of its own unless given.",
            unit="1/h",
            example=[0.0, 0.2, 1.0],
        ),
    ] = None
    pulse_30s: Annotated[
        _Rates | None,
        about(
            "Over 30 s",
            "Largest mean over 30 s in each step; no limit of its own unless given.",
            unit="1/h",
            example=[0.0, 0.5, 2.0],
        ),
    ] = None
    pulse_10s: Annotated[
        _Rates | None,
        about(
            "Over 10 s",
            "Largest mean over 10 s in each step; no limit of its own unless given.",
            unit="1/h",
            example=[0.0, 1.0, 3.0],
        ),
    ] = None
    pulse_1s: Annotated[
        _Rates | None,
        about(
            "Over 1 s",
            "Largest mean over 1 s in each step; no limit of its own unless given.",
            unit="1/h",
            example=[0.0, 1.5, 4.0],
        ),
    ] = None
    soc: Annotated[
        Annotated[tuple[Fraction, ...], Field(max_length=100, strict=False)] | None,
        about(
            "State of charge of the steps",
            "Lower edge of each step of the factor below; one step unless given.",
            unit="fraction",
            example=[0.0, 0.8],
        ),
    ] = None
    soc_factor: Annotated[
        Annotated[tuple[Fraction, ...], Field(max_length=100, strict=False)] | None,
        about(
            "Factor of the state of charge",
            "Multiplies all currents of this table in each step of the state of charge.",
            unit="fraction",
            example=[1.0, 0.5],
        ),
    ] = None

    @model_validator(mode="after")
    def _is_a_table(self) -> "CurrentLimits":
        try:
            self.table()
        except NumberError as error:
            raise ValueError(str(error)) from None
        return self

    def table(self) -> CurrentTable:
        """The limits as the pack takes them.

        Raises:
            NumberError: Rows and edges do not fit together.
        """
        rates = tuple((name, row) for name in DURATIONS if (row := getattr(self, name)) is not None)
        return CurrentTable(self.temperature_C, rates, self.soc or (0.0,), self.soc_factor or (1.0,))


class BatteryLimits(Section):
    """What the battery may be loaded with, besides voltage and state of charge."""

    inverter_power_W: Annotated[
        Watts | None,
        about(
            "Power of the battery's inverter",
            "Largest power at the battery's terminals in either direction; no limit unless given.",
            unit="W",
            example=90000,
        ),
    ] = None
    discharge: Annotated[
        CurrentLimits | None,
        about("Discharge current", "In place of the cell's own limits; those of the parameter set unless given."),
    ] = None
    charge: Annotated[
        CurrentLimits | None,
        about("Charge current", "In place of the cell's own limits; those of the parameter set unless given."),
    ] = None
