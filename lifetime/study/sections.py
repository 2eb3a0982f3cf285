"""Schema of the study file, section by section; units stand in the key names, °C only where a person writes."""

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, model_validator

from lifetime.constants import DAYS_PER_YEAR, SECONDS_PER_DAY
from lifetime.study.ranges import (
    AmpereHours,
    Amperes,
    Celsius,
    CRate,
    Efficiency,
    Fraction,
    JoulesPerKelvin,
    KelvinPerWatt,
    Kilograms,
    Kilometres,
    Money,
    Ohms,
    SquareMetres,
    Volts,
    VoltsOrZero,
    Watts,
)

TwelveMonths = Annotated[tuple[Celsius, ...], Field(min_length=12, max_length=12, strict=False)]


class Section(BaseModel):
    """Base of every section: unknown keys are errors, numbers are finite, text is not taken for a number."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False, strict=True)


class Day(Section):
    """One working day: drive repeats, then charge, then rest for what is left of 24 h."""

    drive_repeats: Annotated[int, Field(ge=1, le=1000)] = 1
    charge_c_rate: CRate | None = None
    charge_to_soc: Fraction | None = None

    @model_validator(mode="after")
    def _both_or_neither(self) -> "Day":
        if (self.charge_c_rate is None) != (self.charge_to_soc is None):
            raise ValueError(
                "charge_c_rate and charge_to_soc belong together: give both, or neither for a pack that is never "
                "charged from outside"
            )
        return self


class Service(Section):
    """How long and how hard the vehicle works, and in what climate."""

    years: Annotated[float, Field(ge=0.01, le=50.0)]
    working_days_per_year: Annotated[float, Field(ge=0.0, le=365.0)] | None = None
    histories_cover: Literal["driving", "everything"] = "driving"
    distance_km_per_day: Kilometres | None = None
    climate: str | None = None
    ambient_C: Celsius | TwelveMonths | None = None
    day: Day = Day()

    def runs_per_year(self, length_s: float) -> float:
        """How often a year holds what was recorded: a working day, or a whole log repeated without a pause [1/year].

        Args:
            length_s: Length of what was recorded [s], > 0.
        """
        if self.working_days_per_year is not None:
            return self.working_days_per_year
        return DAYS_PER_YEAR * SECONDS_PER_DAY / length_s

    @property
    def distance_days_per_year(self) -> float:
        """Days a year on which ``distance_km_per_day`` is driven."""
        return DAYS_PER_YEAR if self.working_days_per_year is None else self.working_days_per_year

    @model_validator(mode="after")
    def _days_fit(self) -> "Service":
        if self.histories_cover == "driving":
            if self.working_days_per_year is None:
                raise ValueError(
                    "working_days_per_year is missing; leave it out only where the histories hold charging and rest "
                    'too: histories_cover = "everything"'
                )
        elif self.working_days_per_year is not None or self.day != Day():
            raise ValueError(
                'with histories_cover = "everything" the histories hold the days as they were: leave out '
                "working_days_per_year and the section service.day"
            )
        return self

    @model_validator(mode="after")
    def _one_climate(self) -> "Service":
        if (self.climate is None) == (self.ambient_C is None):
            raise ValueError(
                'give either climate = "NAME" or ambient_C = a number or 12 monthly means, not both or neither'
            )
        return self


class ThermalPath(Section):
    """A lumped pack on its way to coolant or ambient air."""

    resistance_K_per_W: KelvinPerWatt
    heat_capacity_J_per_K: JoulesPerKelvin
    hot_spot_K: Annotated[float, Field(ge=0.0, le=40.0)] = 0.0


class OpenCircuit(Section):
    """The user's own open-circuit curve in place of the profile's typical one."""

    soc: Annotated[tuple[Fraction, ...], Field(min_length=2, max_length=1000, strict=False)]
    voltage_V: Annotated[tuple[Volts, ...], Field(min_length=2, max_length=1000, strict=False)]
    label: str = "given in the study"


class BatteryPrice(Section):
    """What the battery pack costs: for the whole pack, or by rated energy."""

    purchase: Money | None = None
    purchase_per_kWh: Money | None = None
    replacement_labour: Money = 0.0

    @model_validator(mode="after")
    def _one_price(self) -> "BatteryPrice":
        if (self.purchase is None) == (self.purchase_per_kWh is None):
            raise ValueError("give either purchase (whole pack) or purchase_per_kWh, not both or neither")
        return self


class UltracapacitorPrice(Section):
    """What the bank costs: for the whole bank, or by the farad of one cell times the number of cells."""

    purchase: Money | None = None
    purchase_per_farad_cell: Money | None = None
    replacement_labour: Money = 0.0

    @model_validator(mode="after")
    def _one_price(self) -> "UltracapacitorPrice":
        if (self.purchase is None) == (self.purchase_per_farad_cell is None):
            raise ValueError(
                "give either purchase (whole bank) or purchase_per_farad_cell (times the number of cells), "
                "not both or neither"
            )
        return self


class Battery(Section):
    """The battery pack."""

    cell: str
    series: Annotated[int, Field(ge=1, le=100_000)]
    parallel: Annotated[int, Field(ge=1, le=100_000)]
    cell_capacity_Ah: AmpereHours | None = None
    start_soc: Fraction
    minimum_soc: Fraction = 0.0
    maximum_soc: Fraction = 1.0
    minimum_voltage_V: Volts | None = None
    maximum_voltage_V: Volts | None = None
    resistance_ohm: Ohms | None = None
    thermal: ThermalPath | None = None
    open_circuit: OpenCircuit | None = None
    price: BatteryPrice

    @model_validator(mode="after")
    def _ordered(self) -> "Battery":
        if not self.minimum_soc <= self.start_soc <= self.maximum_soc:
            raise ValueError(
                f"start_soc must lie between minimum_soc and maximum_soc ({self.minimum_soc:g} to "
                f"{self.maximum_soc:g}), got {self.start_soc:g}"
            )
        return self


class Ultracapacitor(Section):
    """The ultracapacitor bank; voltages are those of the whole bank."""

    cell: str
    series: Annotated[int, Field(ge=1, le=100_000)]
    parallel: Annotated[int, Field(ge=1, le=100_000)]
    start_voltage_V: Volts
    minimum_voltage_V: Volts
    maximum_voltage_V: Volts | None = None
    rest_voltage_V: VoltsOrZero
    maximum_current_A: Amperes | None = None
    fade_shape: Literal["linear", "square_root", "burn_in_linear"] | None = None
    thermal: ThermalPath | None = None
    price: UltracapacitorPrice

    @model_validator(mode="after")
    def _ordered(self) -> "Ultracapacitor":
        if self.minimum_voltage_V > self.start_voltage_V:
            raise ValueError(
                f"start_voltage_V must not lie below minimum_voltage_V ({self.minimum_voltage_V:g} V), got "
                f"{self.start_voltage_V:g} V"
            )
        return self


class VehicleSection(Section):
    """The vehicle that turns a speed into a power."""

    mass_kg: Kilograms
    rolling_resistance: Annotated[float, Field(ge=0.0, le=0.2)]
    drag_area_m2: SquareMetres
    rotating_mass_share: Annotated[float, Field(ge=0.0, le=1.0)] = 0.0
    drive_efficiency: Efficiency = 1.0
    recuperation_share: Fraction = 1.0
    auxiliary_W: Watts = 0.0


class EndOfLife(Section):
    """Limits that end a source's life; the defaults are those in common use (80 %, twice the resistance)."""

    battery_capacity: Annotated[float, Field(gt=0.2, lt=1.0)] = 0.80
    battery_resistance: Annotated[float, Field(gt=1.0, le=10.0)] = 2.0
    ultracapacitor_capacitance: Annotated[float, Field(gt=0.2, lt=1.0)] = 0.80
    ultracapacitor_esr: Annotated[float, Field(gt=1.0, le=10.0)] = 2.0


class Counting(Section):
    """How cycles are counted."""

    smallest_battery_cycle_soc: Annotated[float, Field(ge=0.0, le=0.2)] = 0.0


class Cost(Section):
    """Prices and discounting; prices are in today's money, the rate is a real one."""

    currency: Annotated[str, Field(min_length=1, max_length=12)]
    discount_rate: Annotated[float, Field(ge=0.0, le=1.0)]
    electricity_per_kWh: Money = 0.0
    residual_value: bool = True
