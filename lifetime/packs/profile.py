"""The schema of a parameter set: every value with unit, source, grade and, where known, a plausible range."""

import math
import re
from collections.abc import Mapping
from itertools import pairwise
from typing import Annotated, Any, Literal, Self

from pydantic import BaseModel, BeforeValidator, ConfigDict, Field, model_validator
from pydantic_core import PydanticCustomError

from lifetime.ageing.coefficients import Coefficient
from lifetime.ageing.registry import law_faults
from lifetime.errors import NumberError
from lifetime.packs.current_table import DURATIONS, CurrentTable

Grade = Literal["primary source", "secondary source", "unverified", "derived", "convention"]
"""How sure a value is, best first: checked in its source; found identical in published reproductions of the source;
not checked against a source; our own rule or fit built on published values."""

Kind = Literal["battery", "ultracapacitor"]
Text = Annotated[str, Field(min_length=1)]

_LITHIUM = re.compile(r"lithium|\bli-?ion\b|\blic\b", re.IGNORECASE)
"""Chemistry of an ultracapacitor with a lithium electrode, whose window ends above 0 V."""

_CELL_UNITS: Mapping[str, str] = {
    "capacity_Ah": "Ah",
    "capacitance_F": "F",
    "nominal_voltage_V": "V",
    "minimum_voltage_V": "V",
    "maximum_voltage_V": "V",
    "absolute_maximum_voltage_V": "V",
    "resistance_ohm": "ohm",
    "mass_kg": "kg",
    "maximum_current_A": "A",
    "continuous_current_A": "A",
    "thermal_resistance_K_per_W": "K/W",
    "heat_capacity_J_per_K": "J/K",
}

_RESISTANCE_UNITS: Mapping[str, str] = {
    "ohmic": "1",
    "branches": "1",
    "time_constants_s": "s",
    "activation_energy": "kJ/mol",
    "second_term": "1",
    "soc": "1",
    "soc_factor": "1",
}
_MAY_BE_ZERO = ("ohmic", "activation_energy", "soc")

_OF_A_BATTERY: Mapping[str, str] = {
    "limits": "whose maximum current is in its cell section",
    "cold_charging": "which no charging in the cold harms",
    "resistance": "whose ESR is one number, got a section",
}
"""Sections that only a battery has, and why an ultracapacitor has not."""

_VALIDITY_UNITS: Mapping[str, str] = {
    "temperature_C": "°C",
    "cycle_temperature_C": "°C",
    "soc": "1",
    "voltage_V": "V",
    "depth": "1",
    "c_rate": "1/h",
    "charge_c_rate": "1/h",
}


def _finite(value: Any) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
        raise PydanticCustomError("number", "must be a finite number or a list of them")
    return float(value)


def _number_or_list(value: Any) -> float | tuple[float, ...]:
    if isinstance(value, list | tuple) and value:
        return tuple(_finite(item) for item in value)
    return _finite(value)


def _pair(value: Any) -> tuple[float, float] | None:
    if value is None:
        return None
    if not isinstance(value, list | tuple) or len(value) != 2:
        raise PydanticCustomError("range", "must be [low, high]")
    low, high = _finite(value[0]), _finite(value[1])
    if low >= high:
        raise PydanticCustomError("range", "must be [low, high] with low below high")
    return low, high


def _raise(faults: Mapping[str, str]) -> None:
    """Hand several faults of one section to pydantic as one error; the reader takes them apart again."""
    if faults:
        raise PydanticCustomError("section", "has faults", {"faults": dict(faults)})


class _Strict(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class Quantity(_Strict):
    """One number, or list of numbers, with its unit and where it comes from."""

    value: Annotated[float | tuple[float, ...], BeforeValidator(_number_or_list)]
    unit: Text
    source: Text
    grade: Grade
    range: Annotated[tuple[float, float] | None, BeforeValidator(_pair)] = None

    @property
    def values(self) -> tuple[float, ...]:
        """The value as a list, also where it is a single number."""
        return self.value if isinstance(self.value, tuple) else (self.value,)

    @property
    def number(self) -> float:
        """The value where the schema has made sure that it is a single number."""
        return self.values[0]

    @model_validator(mode="after")
    def _inside_range(self) -> Self:
        if self.range is not None and not self.range[0] <= min(self.values) <= max(self.values) <= self.range[1]:
            raise PydanticCustomError("range", "must lie inside its own range")
        return self


class Choice(_Strict):
    """One word out of a closed list, or a statement, and where it comes from."""

    value: Text
    source: Text
    grade: Grade


class CellSection(_Strict):
    """The reference cell; a battery states its capacity, an ultracapacitor its capacitance."""

    capacity_Ah: Quantity | None = None
    capacitance_F: Quantity | None = None
    nominal_voltage_V: Quantity
    minimum_voltage_V: Quantity
    maximum_voltage_V: Quantity
    absolute_maximum_voltage_V: Quantity | None = None
    """At the terminals, for moments; only an ultracapacitor's sheet gives it beside the rated voltage."""
    resistance_ohm: Quantity
    mass_kg: Quantity | None = None
    maximum_current_A: Quantity | None = None
    continuous_current_A: Quantity | None = None
    thermal_resistance_K_per_W: Quantity | None = None
    heat_capacity_J_per_K: Quantity | None = None

    @model_validator(mode="after")
    def _physical(self) -> Self:
        faults = {}
        for key, unit in _CELL_UNITS.items():
            quantity: Quantity | None = getattr(self, key)
            if quantity is None:
                continue
            if isinstance(quantity.value, tuple):
                faults[key] = f"must be a single number, got {quantity.value}"
            elif quantity.unit != unit:
                faults[key] = f'must be in the unit "{unit}", got "{quantity.unit}"'
            elif quantity.value < 0.0 or (quantity.value == 0.0 and key != "minimum_voltage_V"):
                faults[key] = f"must be above 0, got {quantity.value:g}"
        low, middle, high = (
            part.number for part in (self.minimum_voltage_V, self.nominal_voltage_V, self.maximum_voltage_V)
        )
        if not low < middle <= high:
            faults.setdefault(
                "nominal_voltage_V", f"must be above the minimum and not above the maximum voltage, got {middle:g}"
            )
        _raise(faults)
        return self


class ResistanceSection(_Strict):
    """How the resistance depends on pulse length, temperature and state of charge, relative to ``resistance_ohm``."""

    ohmic: Quantity
    branches: Quantity | None = None
    """Resistance of each RC branch."""
    time_constants_s: Quantity | None = None
    """Time constant of each RC branch."""
    activation_energy: Quantity | None = None
    """One, or two whose Arrhenius terms add."""
    second_term: Quantity | None = None
    """Share of the second term at 25 °C."""
    soc: Quantity | None = None
    soc_factor: Quantity | None = None

    @model_validator(mode="after")
    def _fit_together(self) -> Self:
        faults = {}
        for key, unit in _RESISTANCE_UNITS.items():
            quantity: Quantity | None = getattr(self, key)
            if quantity is None:
                continue
            if quantity.unit != unit:
                faults[key] = f'must be in the unit "{unit}", got "{quantity.unit}"'
            elif key in ("ohmic", "second_term") and len(quantity.values) != 1:
                faults[key] = f"must be a single number, got {quantity.value}"
            elif min(quantity.values) < 0.0 or (min(quantity.values) == 0.0 and key not in _MAY_BE_ZERO):
                faults[key] = f"must be above 0, got {min(quantity.values):g}"
        energies = 0 if self.activation_energy is None else len(self.activation_energy.values)
        if energies > 2 or (energies == 2) != (self.second_term is not None):
            faults["activation_energy"] = f"must be one value, or two with second_term, got {energies} values"
        for first, second in (("branches", "time_constants_s"), ("soc", "soc_factor")):
            sizes = [0 if part is None else len(part.values) for part in (getattr(self, first), getattr(self, second))]
            if sizes[0] != sizes[1]:
                faults.setdefault(second, f"must be as many values as {first} ({sizes[0]}), got {sizes[1]}")
        if self.soc is not None and any(right <= left for left, right in pairwise(self.soc.values)):
            faults.setdefault("soc", f"must be values each above the one before, got {self.soc.value}")
        _raise(faults)
        return self


class CurrentSection(_Strict):
    """Most current in one direction over temperature and state of charge, in steps."""

    temperature_C: Quantity
    continuous: Quantity | None = None
    pulse_30s: Quantity | None = None
    pulse_10s: Quantity | None = None
    pulse_1s: Quantity | None = None
    soc: Quantity | None = None
    soc_factor: Quantity | None = None

    @model_validator(mode="after")
    def _is_a_table(self) -> Self:
        faults = {}
        for key in type(self).model_fields:
            quantity: Quantity | None = getattr(self, key)
            unit = {"temperature_C": "°C", "soc": "1", "soc_factor": "1"}.get(key, "1/h")
            if quantity is not None and quantity.unit != unit:
                faults[key] = f'must be in the unit "{unit}", got "{quantity.unit}"'
        _raise(faults)
        try:
            self.table()
        except NumberError as error:
            _raise({"temperature_C": f"must fit the other rows: {error}"})
        return self

    def table(self) -> CurrentTable:
        """The limits as a cell has them.

        Raises:
            NumberError: Rows and edges do not fit together.
        """
        rows = ((name, getattr(self, name)) for name in DURATIONS)
        rates = tuple((name, row.values) for name, row in rows if row is not None)
        soc = (0.0,) if self.soc is None else self.soc.values
        factor = (1.0,) if self.soc_factor is None else self.soc_factor.values
        return CurrentTable(self.temperature_C.values, rates, soc, factor)


class LimitsSection(_Strict):
    """What the cell may be loaded with, besides its voltages and its maximum current."""

    discharge: CurrentSection | None = None
    charge: CurrentSection | None = None


class CurveSection(_Strict):
    """Open-circuit voltage against state of charge."""

    label: Text
    soc: Quantity
    voltage_V: Quantity

    @model_validator(mode="after")
    def _monotone(self) -> Self:
        soc, volts = self.soc.values, self.voltage_V.values
        faults = {}
        if self.soc.unit != "1":
            faults["soc"] = f'must be in the unit "1", got "{self.soc.unit}"'
        elif len(soc) < 2 or any(right <= left for left, right in pairwise(soc)):
            faults["soc"] = f"must be at least two values, each above the one before, got {soc}"
        if self.voltage_V.unit != "V":
            faults["voltage_V"] = f'must be in the unit "V", got "{self.voltage_V.unit}"'
        elif len(volts) != len(soc):
            faults["voltage_V"] = f"must be as many values as soc ({len(soc)}), got {len(volts)}"
        elif any(right < left for left, right in pairwise(volts)):
            faults["voltage_V"] = f"must not fall as soc rises, got {volts}"
        _raise(faults)
        return self


class LawSection(_Strict):
    """The ageing law and its numbers."""

    name: Text
    coefficients: dict[str, Quantity]
    choices: dict[str, Choice] = Field(default_factory=dict)

    def numbers(self) -> dict[str, Coefficient]:
        """The coefficients as the law takes them."""
        return {key: Coefficient(entry.value, entry.unit) for key, entry in self.coefficients.items()}

    def words(self) -> dict[str, str]:
        """The choices as the law takes them."""
        return {key: entry.value for key, entry in self.choices.items()}

    @model_validator(mode="after")
    def _fits_law(self) -> Self:
        _raise(law_faults(self.name, self.numbers(), self.words()))
        return self


class ValiditySection(_Strict):
    """The ranges the law was fitted on; leave out what the source does not give."""

    temperature_C: Quantity | None = None
    cycle_temperature_C: Quantity | None = None
    soc: Quantity | None = None
    voltage_V: Quantity | None = None
    depth: Quantity | None = None
    c_rate: Quantity | None = None
    charge_c_rate: Quantity | None = None
    tested_loss: Quantity | None = None
    """Loss of capacity that the tests behind the law reached; one number."""

    @model_validator(mode="after")
    def _intervals(self) -> Self:
        faults = {}
        for key, unit in _VALIDITY_UNITS.items():
            quantity: Quantity | None = getattr(self, key)
            if quantity is None:
                continue
            if quantity.unit != unit:
                faults[key] = f'must be in the unit "{unit}", got "{quantity.unit}"'
            elif len(quantity.values) != 2 or quantity.values[0] >= quantity.values[1]:
                faults[key] = f"must be [low, high] with low below high, got {quantity.value}"
        loss = self.tested_loss
        if loss is not None and (loss.unit != "1" or len(loss.values) != 1 or not 0.0 < loss.number < 1.0):
            faults["tested_loss"] = f'must be one number between 0 and 1 in the unit "1", got {loss.value} {loss.unit}'
        _raise(faults)
        return self


class Profile(_Strict):
    """One parameter set file."""

    title: Text
    kind: Kind
    chemistry: Text
    caveats: tuple[Text, ...]
    references: tuple[Text, ...]
    cold_charging: Choice | None = None
    """What the source, and makers of such cells, say about charging in the cold; a battery's alone."""
    cell: CellSection
    ocv: CurveSection | None = None
    resistance: ResistanceSection | None = None
    limits: LimitsSection | None = None
    law: LawSection
    validity: ValiditySection

    @model_validator(mode="after")
    def _suits_kind(self) -> Self:
        battery = self.kind == "battery"
        wanted, other = ("capacity_Ah", "capacitance_F") if battery else ("capacitance_F", "capacity_Ah")
        faults = {}
        if getattr(self.cell, wanted) is None:
            faults[f"cell.{wanted}"] = f"must be given for a {self.kind}, got nothing"
        if getattr(self.cell, other) is not None:
            faults[f"cell.{other}"] = f"must be left out for a {self.kind}, got a value"
        if not battery:
            faults |= {
                key: f"must be left out for an ultracapacitor, {why}"
                for key, why in _OF_A_BATTERY.items()
                if getattr(self, key) is not None
            }
        if battery != (self.ocv is not None):
            faults["ocv"] = (
                "must be given for a battery, got nothing"
                if battery
                else "must be left out for an ultracapacitor, whose voltage is linear in charge, got a section"
            )
        if not battery and self.cell.nominal_voltage_V.number != self.cell.maximum_voltage_V.number:
            faults["cell.nominal_voltage_V"] = (
                f"must equal the maximum voltage for an ultracapacitor (both are the rated voltage), "
                f"got {self.cell.nominal_voltage_V.number:g}"
            )
        if not battery and _LITHIUM.search(self.chemistry):
            faults["chemistry"] = (
                "must be that of an electric double-layer capacitor: a lithium-ion capacitor is harmed at the low end "
                "of its voltage (22 % lost in a month at 2.2 V and 60 °C, doi 10.3390/batteries5010028), where these "
                f'ageing models see the longest life, so they would order strategies backwards, got "{self.chemistry}"'
            )
        absolute = self.cell.absolute_maximum_voltage_V
        if absolute is not None and absolute.number < self.cell.maximum_voltage_V.number:
            faults["cell.absolute_maximum_voltage_V"] = f"must not be below maximum_voltage_V, got {absolute.number:g}"
        if self.law.name.startswith("ultracapacitor") == battery:
            faults["law.name"] = f'must be a law for a {self.kind}, got "{self.law.name}"'
        _raise(faults)
        return self
