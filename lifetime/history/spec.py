"""How a study names a history: files, columns, units, sign, meaning, cleaning."""

from typing import Annotated, Any, Final, Literal, Self
from zoneinfo import ZoneInfo

from pydantic import BaseModel, ConfigDict, Field, field_validator, model_validator

from lifetime.history.block import Interpolation
from lifetime.history.formats.number_format import Decimal
from lifetime.history.key_texts import ABOUT
from lifetime.history.machine import MachineLosses
from lifetime.history.record import CleaningName
from lifetime.ranges import COLDEST_AMBIENT_C, HOTTEST_AMBIENT_C, Fraction
from lifetime.units import QUANTITIES, Quantity, known_units, named_unit

Name = Annotated[str, Field(min_length=1, max_length=2000)]
Pattern = Annotated[str, Field(min_length=1, max_length=100)]
Names = Annotated[tuple[Name, ...], Field(min_length=1, max_length=1000, strict=False)]
Phases = Annotated[tuple[Name, ...], Field(min_length=2, max_length=3, strict=False)]
Ambient = Annotated[float, Field(ge=COLDEST_AMBIENT_C, le=HOTTEST_AMBIENT_C, allow_inf_nan=False)]

_UNIT_KEYS: Final = tuple(f"{quantity}_unit" for quantity in QUANTITIES)


class HistoryInput(BaseModel):
    """One history as a study file describes it; unknown keys are errors, and ``ABOUT`` says what each key means."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    file: Annotated[Name, ABOUT["file"]]
    time: Annotated[Name, ABOUT["time"]]
    current: Annotated[Name | None, ABOUT["current"]] = None
    power: Annotated[Name | None, ABOUT["power"]] = None
    charge_current: Annotated[Name | None, ABOUT["charge_current"]] = None
    discharge_current: Annotated[Name | None, ABOUT["discharge_current"]] = None
    phase_currents: Annotated[Phases | None, ABOUT["phase_currents"]] = None
    phase_voltages: Annotated[Phases | None, ABOUT["phase_voltages"]] = None
    torque: Annotated[Name | None, ABOUT["torque"]] = None
    shaft_speed: Annotated[Name | None, ABOUT["shaft_speed"]] = None
    torque_fraction: Annotated[Fraction, ABOUT["torque_fraction"]] = 1.0
    machine: Annotated[MachineLosses | None, ABOUT["machine"]] = None
    voltage: Annotated[Name | None, ABOUT["voltage"]] = None
    temperature: Annotated[Name | None, ABOUT["temperature"]] = None
    speed: Annotated[Name | None, ABOUT["speed"]] = None
    mode: Annotated[Name | None, ABOUT["mode"]] = None
    charge_modes: Annotated[Names | None, ABOUT["charge_modes"]] = None
    discharge_modes: Annotated[Names | None, ABOUT["discharge_modes"]] = None
    rest_modes: Annotated[Names | None, ABOUT["rest_modes"]] = None
    date: Annotated[Name | None, ABOUT["date"]] = None
    discharge_is: Annotated[Literal["positive", "negative"], ABOUT["discharge_is"]] = "positive"
    interpolation: Annotated[Interpolation, ABOUT["interpolation"]] = "linear"
    current_from_power: Annotated[bool, ABOUT["current_from_power"]] = False
    current_offset_A: Annotated[float, Field(ge=-1e6, le=1e6, allow_inf_nan=False), ABOUT["current_offset_A"]] = 0.0
    quantities_of: Annotated[Literal["pack", "cell"], ABOUT["quantities_of"]] = "pack"
    ambient_C: Annotated[Ambient | None, ABOUT["ambient_C"]] = None
    clean: Annotated[tuple[CleaningName, ...], ABOUT["clean"]] = ()
    files_follow: Annotated[Literal["by_time", "one_after_another"], ABOUT["files_follow"]] = "by_time"
    time_unit: Annotated[str | None, ABOUT["time_unit"]] = None
    time_format: Annotated[Pattern | None, ABOUT["time_format"]] = None
    date_format: Annotated[Pattern | None, ABOUT["date_format"]] = None
    time_zone: Annotated[Pattern | None, ABOUT["time_zone"]] = None
    current_unit: Annotated[str | None, ABOUT["current_unit"]] = None
    power_unit: Annotated[str | None, ABOUT["power_unit"]] = None
    voltage_unit: Annotated[str | None, ABOUT["voltage_unit"]] = None
    temperature_unit: Annotated[str | None, ABOUT["temperature_unit"]] = None
    speed_unit: Annotated[str | None, ABOUT["speed_unit"]] = None
    torque_unit: Annotated[str | None, ABOUT["torque_unit"]] = None
    shaft_speed_unit: Annotated[str | None, ABOUT["shaft_speed_unit"]] = None
    header_row: Annotated[Annotated[int, Field(ge=0, le=1000)] | None, ABOUT["header_row"]] = None
    decimal: Annotated[Decimal | None, ABOUT["decimal"]] = None
    sheet: Annotated[Name | None, ABOUT["sheet"]] = None
    bus_database: Annotated[Name | None, ABOUT["bus_database"]] = None

    def columns(self) -> dict[str, tuple[str, Quantity | None]]:
        """Every column named: by its role, its name and its quantity (None for words)."""
        named: dict[str, tuple[str | None, Quantity | None]] = {
            "time": (self.time, "time"),
            "date": (self.date, "time"),
            "current": (self.current, "current"),
            "charge_current": (self.charge_current, "current"),
            "discharge_current": (self.discharge_current, "current"),
            "power": (self.power, "power"),
            "voltage": (self.voltage, "voltage"),
            "temperature": (self.temperature, "temperature"),
            "speed": (self.speed, "speed"),
            "torque": (self.torque, "torque"),
            "shaft_speed": (self.shaft_speed, "shaft_speed"),
            "mode": (self.mode, None),
        }
        for number, name in enumerate(self.phase_currents or (), start=1):
            named[f"phase_current_{number}"] = (name, "current")
        for number, name in enumerate(self.phase_voltages or (), start=1):
            named[f"phase_voltage_{number}"] = (name, "voltage")
        return {role: (name.strip(), quantity) for role, (name, quantity) in named.items() if name is not None}

    def stated_unit(self, quantity: Quantity) -> str | None:
        """The study's own word on the unit of a quantity's columns, or None.

        Args:
            quantity: Which.
        """
        unit: str | None = getattr(self, f"{quantity}_unit")
        return unit

    @property
    def driven_by(self) -> Literal["current", "power", "speed"]:
        """Which quantity the history gives, after everything the study asks for."""
        if self.current_from_power or self.current is not None or self.charge_current is not None:
            return "current"
        has_power = self.power is not None or self.phase_currents is not None or self.torque is not None
        return "power" if has_power else "speed"

    @field_validator(*_UNIT_KEYS)
    @classmethod
    def _unit_is_known(cls, value: str | None, info: Any) -> str | None:
        if value is None:
            return None
        quantity: Quantity = info.field_name.removesuffix("_unit")
        unit = named_unit(value)
        if unit is None or unit.quantity != quantity:
            raise ValueError(f'"{value}" is not a unit of {quantity}; known are {", ".join(known_units(quantity))}')
        return value

    @field_validator("time_zone")
    @classmethod
    def _zone_is_known(cls, value: str | None) -> str | None:
        if value is not None:
            try:
                ZoneInfo(value)
            except (LookupError, ValueError, OSError):
                raise ValueError(
                    f'"{value}" is not a zone of the IANA data base; one looks like "Europe/Berlin"'
                ) from None
        return value

    @field_validator("clean")
    @classmethod
    def _clean_is_consistent(cls, value: tuple[CleaningName, ...]) -> tuple[CleaningName, ...]:
        if len(set(value)) != len(value):
            raise ValueError("each cleaning step may be named once")
        if "bridge_gaps" in value and "rest_in_gaps" in value:
            raise ValueError("bridge_gaps and rest_in_gaps contradict each other; name one")
        if "join_restarts" in value and "sort_by_time" in value:
            raise ValueError("join_restarts and sort_by_time contradict each other; name one")
        return value

    @model_validator(mode="after")
    def _columns_fit(self) -> Self:
        _require_one_drive(self)
        _require_pairs(self)
        _require_torque(self)
        columns = self.columns()
        quantities = {quantity for _, quantity in columns.values()}
        for quantity in QUANTITIES:
            if quantity not in quantities and self.stated_unit(quantity) is not None:
                raise ValueError(f"{quantity}_unit is given, but no column for {quantity}")
        names = [name for name, _ in columns.values()]
        for name in names:
            if names.count(name) > 1:
                raise ValueError(f'column "{name}" is named for two quantities')
        return self


def _require_one_drive(spec: HistoryInput) -> None:
    two_currents, torque = spec.charge_current or spec.discharge_current, spec.torque or spec.shaft_speed
    drives = (spec.current, spec.power, two_currents, spec.phase_currents, torque)
    given = sum(drive is not None for drive in drives)
    if given > 1 or (given == 0 and spec.speed is None):
        raise ValueError(
            "name exactly one of the keys current and power (or, in their place, charge_current with "
            "discharge_current, phase_currents with phase_voltages, or torque with shaft_speed)"
        )
    if (spec.charge_current is None) != (spec.discharge_current is None):
        raise ValueError("charge_current and discharge_current belong together: name both")
    if (spec.phase_currents is None) != (spec.phase_voltages is None):
        raise ValueError("phase_currents and phase_voltages belong together: name both")
    if spec.phase_currents and spec.phase_voltages and len(spec.phase_currents) != len(spec.phase_voltages):
        raise ValueError("phase_currents and phase_voltages must be equally many: each current with its voltage")
    has_current = spec.current is not None or spec.charge_current is not None
    if spec.current_from_power and (spec.voltage is None or has_current):
        raise ValueError("current_from_power needs a power and a voltage column, and no current column")


def _require_torque(spec: HistoryInput) -> None:
    if (spec.torque is None) != (spec.shaft_speed is None):
        raise ValueError("torque and shaft_speed belong together: name both")
    if spec.torque is None and (spec.machine is not None or spec.torque_fraction != 1.0):
        raise ValueError("torque_fraction and the section machine belong to a torque: name torque and shaft_speed")
    if spec.torque is not None and spec.quantities_of == "cell":
        raise ValueError('a torque is that of the machine, not of a cell: leave out quantities_of = "cell"')


def _require_pairs(spec: HistoryInput) -> None:
    given = (spec.mode is not None, spec.charge_modes is not None, spec.discharge_modes is not None)
    if any(given) and not all(given):
        raise ValueError("mode, charge_modes and discharge_modes belong together: give all three")
    if spec.mode is not None and spec.current is None and spec.power is None:
        raise ValueError("mode gives the sign of a current or power column; name one")
    words = [*(spec.charge_modes or ()), *(spec.discharge_modes or ()), *(spec.rest_modes or ())]
    if len(set(words)) != len(words):
        raise ValueError("charge_modes, discharge_modes and rest_modes share a word; each means one thing")
    if spec.rest_modes is not None and spec.mode is None:
        raise ValueError("rest_modes belongs to mode; name that column too")
    if (spec.date is None) != (spec.date_format is None):
        raise ValueError('date and date_format belong together, for example date_format = "%m/%d/%Y"')
    if spec.date is not None and spec.time_format is None:
        raise ValueError('with a date column, time_format says how the time of day is written: "duration" fits h:m:s')
    if spec.time_unit is not None and spec.time_format is not None:
        raise ValueError("give time_unit for numbers or time_format for timestamps, not both")
    if spec.time_zone is not None and spec.time_format is None:
        raise ValueError("time_zone needs local timestamps: give time_format")
    if spec.current_offset_A and spec.driven_by != "current":
        raise ValueError("current_offset_A needs a current, and this history gives a power")
