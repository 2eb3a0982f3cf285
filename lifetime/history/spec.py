"""How a study names a history: files, columns, units, sign, meaning, cleaning."""

from typing import Annotated, Any, Final, Literal, Self
from zoneinfo import ZoneInfo

from pydantic import BaseModel, ConfigDict, Field, field_validator, model_validator

from lifetime.history.block import Interpolation
from lifetime.history.numerals import Decimal
from lifetime.history.record import CleaningName
from lifetime.units import QUANTITIES, Quantity, known_units, named_unit

Name = Annotated[str, Field(min_length=1, max_length=2000)]
Pattern = Annotated[str, Field(min_length=1, max_length=100)]
Names = Annotated[tuple[Name, ...], Field(min_length=1, max_length=1000, strict=False)]
Phases = Annotated[tuple[Name, ...], Field(min_length=2, max_length=3, strict=False)]

_UNIT_KEYS: Final = tuple(f"{quantity}_unit" for quantity in QUANTITIES)


class HistoryInput(BaseModel):
    """One history as a study file describes it; unknown keys are errors.

    Args:
        file: Path of the file, relative to the study file; with ``*`` or ``?`` all files that fit, as one history.
        time: Column with the time: a number in any unit, or a stamp with ``time_format``.
        current: Column with the current.
        power: Column with the power.
        charge_current: Column with the current while charging, >= 0; together with ``discharge_current``.
        discharge_current: Column with the current while discharging, >= 0.
        phase_currents: Columns with the currents of the source's own winding set: three phases, or two and the third
            follows.
        phase_voltages: Columns with the voltages that belong to them: of phase to neutral, or to the third phase.
        voltage: Column with the terminal voltage, optional.
        temperature: Column with the measured temperature, optional.
        speed: Column with the vehicle's speed; beside a power for rules that look at it, or alone for a study with a
            vehicle.
        mode: Column that says in words whether the source charges or discharges; the current's own sign is then
            left aside.
        charge_modes: Words in ``mode`` while the source charges.
        discharge_modes: Words in ``mode`` while the source discharges.
        rest_modes: Words in ``mode`` while it rests; the current is then taken as zero.
        date: Column with the date where ``time`` holds only the time of the day.
        discharge_is: Sign of current or power in the file while the source discharges.
        interpolation: How values run between samples: straight, or held until the next sample.
        current_from_power: True to divide the power by the voltage and go on with the current.
        current_offset_A: Offset of the current sensor [A], taken away after the sign is settled.
        quantities_of: Whether current, power and voltage are those of the pack or of one cell.
        ambient_C: Air temperature during the measurement [°C], -60 to 60; with it measured temperatures can be
            shifted with the season.
        clean: Cleaning steps asked for; see ``lifetime.history.record.CLEANING``.
        files_follow: Where ``file`` names several files: by their times, or one after another whatever their times.
        time_unit: Unit of the time column where its header names none.
        time_format: How a stamp is written: "iso", "duration", or a pattern such as "%d.%m.%Y %H:%M:%S".
        date_format: The same for ``date``.
        time_zone: Zone of local stamps by its name in the IANA data base, such as "Europe/Berlin".
        current_unit: Unit of the current columns where their headers name none.
        power_unit: Unit of the power column where its header names none.
        voltage_unit: Unit of the voltage columns where their headers name none.
        temperature_unit: Unit of the temperature column where its header names none.
        speed_unit: Unit of the speed column where its header names none.
        header_row: Row of the column names, counted from 1, 0 for none, where it is not found rightly.
        decimal: Decimal mark of a text where it is not found rightly.
        sheet: Sheet of a workbook; the first one unless stated.
        bus_database: File (DBC) with which raw frames of a vehicle bus are decoded.
    """

    model_config = ConfigDict(extra="forbid", frozen=True)

    file: Name
    time: Name
    current: Name | None = None
    power: Name | None = None
    charge_current: Name | None = None
    discharge_current: Name | None = None
    phase_currents: Phases | None = None
    phase_voltages: Phases | None = None
    voltage: Name | None = None
    temperature: Name | None = None
    speed: Name | None = None
    mode: Name | None = None
    charge_modes: Names | None = None
    discharge_modes: Names | None = None
    rest_modes: Names | None = None
    date: Name | None = None
    discharge_is: Literal["positive", "negative"] = "positive"
    interpolation: Interpolation = "straight"
    current_from_power: bool = False
    current_offset_A: Annotated[float, Field(ge=-1e6, le=1e6, allow_inf_nan=False)] = 0.0
    quantities_of: Literal["pack", "cell"] = "pack"
    ambient_C: Annotated[float, Field(ge=-60.0, le=60.0, allow_inf_nan=False)] | None = None
    clean: tuple[CleaningName, ...] = ()
    files_follow: Literal["by_time", "one_after_another"] = "by_time"
    time_unit: str | None = None
    time_format: Pattern | None = None
    date_format: Pattern | None = None
    time_zone: Pattern | None = None
    current_unit: str | None = None
    power_unit: str | None = None
    voltage_unit: str | None = None
    temperature_unit: str | None = None
    speed_unit: str | None = None
    header_row: Annotated[int, Field(ge=0, le=1000)] | None = None
    decimal: Decimal | None = None
    sheet: Name | None = None
    bus_database: Name | None = None

    def columns(self) -> dict[str, tuple[str, Quantity | None]]:
        """Every column named: by its role, its name and the quantity it holds (None for words)."""
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
        return "power" if self.power is not None or self.phase_currents is not None else "speed"

    @field_validator(*_UNIT_KEYS)
    @classmethod
    def _unit_is_known(cls, value: str | None, info: Any) -> str | None:
        if value is None:
            return None
        quantity: Quantity = info.field_name.removesuffix("_unit")
        unit = named_unit(value)
        if unit is None or unit.quantity != quantity:
            raise ValueError(f'"{value}" is no unit of {quantity}; known are {", ".join(known_units(quantity))}')
        return value

    @field_validator("time_zone")
    @classmethod
    def _zone_is_known(cls, value: str | None) -> str | None:
        if value is not None:
            try:
                ZoneInfo(value)
            except (LookupError, ValueError, OSError):
                raise ValueError(
                    f'"{value}" is no zone of the IANA data base; one looks like "Europe/Berlin"'
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
    drives = (spec.current, spec.power, spec.charge_current or spec.discharge_current, spec.phase_currents)
    given = sum(drive is not None for drive in drives)
    if given > 1 or (given == 0 and spec.speed is None):
        raise ValueError(
            "name exactly one of the keys current and power (or, in their place, charge_current with "
            "discharge_current, or phase_currents with phase_voltages)"
        )
    if (spec.charge_current is None) != (spec.discharge_current is None):
        raise ValueError("charge_current and discharge_current belong together: name both")
    if (spec.phase_currents is None) != (spec.phase_voltages is None):
        raise ValueError("phase_currents and phase_voltages belong together: name both")
    if spec.phase_currents and spec.phase_voltages and len(spec.phase_currents) != len(spec.phase_voltages):
        raise ValueError("phase_currents and phase_voltages must be equally many: each current beside its voltage")
    has_current = spec.current is not None or spec.charge_current is not None
    if spec.current_from_power and (spec.voltage is None or has_current):
        raise ValueError("current_from_power needs a power and a voltage column, and no current column")


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
        raise ValueError("give time_unit for numbers or time_format for stamps, not both")
    if spec.time_zone is not None and spec.time_format is None:
        raise ValueError("time_zone needs local stamps: give time_format")
    if spec.current_offset_A and spec.driven_by != "current":
        raise ValueError("current_offset_A needs a current, and this history gives a power")
