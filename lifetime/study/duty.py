"""Sections of a study file on what the vehicle does: its days, its climate, its resistance to motion."""

from typing import Annotated, Literal

from pydantic import ConfigDict, Field, model_validator

from lifetime.constants import DAYS_PER_YEAR, HOURS_PER_DAY, SECONDS_PER_DAY, SECONDS_PER_HOUR
from lifetime.keys import about
from lifetime.ranges import Celsius, CRate, Efficiency, Fraction, HourOfDay, Kilograms, Kilometres, SquareMetres, Watts
from lifetime.section import Section

TwelveMonths = Annotated[tuple[Celsius, ...], Field(min_length=12, max_length=12, strict=False)]


class Day(Section):
    """One working day: drive repeats, then charge, then rest for what is left of 24 h; or rest first, then charge."""

    drive_repeats: Annotated[
        int,
        Field(ge=1, le=1000),
        about(
            "Repeats of the history per day", "How often the history is driven in one working day.", unit="1", example=1
        ),
    ] = 1
    charge_c_rate: Annotated[
        CRate | None,
        about(
            "Charging C-rate",
            "Charging after the drive, at constant voltage once the highest is reached; empty for a pack that is never "
            "charged from outside.",
            unit="C",
            example=0.5,
        ),
    ] = None
    charge_to_soc: Annotated[
        Fraction | None,
        about(
            "State of charge after charging",
            "Where charging ends; given together with the C-rate.",
            unit="fraction",
            example=0.9,
        ),
    ] = None
    drive_starts_at_hour: Annotated[
        HourOfDay | None,
        about(
            "Hour at which the drive starts",
            "Local standard time, as in weather files. With an hourly climate the hours driven and the hours stood are "
            "told apart.",
            unit="h",
            example=6,
        ),
    ] = None
    charge_ends_at_hour: Annotated[
        HourOfDay | None,
        about(
            "Hour at which charging ends",
            "The pack first rests where the drive left it, and is full just in time; needs the hour at which the drive "
            "starts. Unless given, it is charged at once.",
            unit="h",
            example=5,
        ),
    ] = None
    charger_efficiency: Annotated[
        Efficiency,
        about(
            "Charger efficiency",
            "From the meter to the battery's terminals; the energy bought is what the battery takes over this.",
            unit="fraction",
            example=0.92,
        ),
    ] = 0.92

    @model_validator(mode="after")
    def _both_or_neither(self) -> "Day":
        if (self.charge_c_rate is None) != (self.charge_to_soc is None):
            raise ValueError(
                "charge_c_rate and charge_to_soc belong together: give both, or neither for a pack that is never "
                "charged from outside"
            )
        return self

    @model_validator(mode="after")
    def _hours_where_used(self) -> "Day":
        if self.charge_ends_at_hour is None:
            return self
        if self.drive_starts_at_hour is None or self.charge_c_rate is None:
            raise ValueError(
                "charge_ends_at_hour needs drive_starts_at_hour, charge_c_rate and charge_to_soc: give them too, or "
                "leave it out to charge at once"
            )
        return self

    @property
    def charge_ends_after_s(self) -> float | None:
        """From the start of the drive to the end of charging [s], above 0 and up to a day; None to charge at once."""
        if self.charge_ends_at_hour is None or self.drive_starts_at_hour is None:
            return None
        later_h = (self.charge_ends_at_hour - self.drive_starts_at_hour) % HOURS_PER_DAY
        return (later_h or HOURS_PER_DAY) * SECONDS_PER_HOUR


class Service(Section):
    """How long and how hard the vehicle works, and in what climate."""

    model_config = ConfigDict(title="Service and duty")

    years: Annotated[
        float,
        Field(ge=0.01, le=50.0),
        about(
            "Service life", "Horizon of the cost and of every figure at the end of service.", unit="years", example=10
        ),
    ]
    working_days_per_year: Annotated[
        Annotated[float, Field(ge=0.0, le=365.0)] | None,
        about(
            "Working days per year",
            "Days with drive and charge, all others are rest; leave it out where the histories contain everything.",
            unit="days/year",
            example=250,
        ),
    ] = None
    histories_cover: Annotated[
        Literal["driving", "everything"],
        about(
            "Content of the histories",
            "The drive of one day; or charging and rest too, as in logs of weeks, which are scaled to a year.",
            example="driving",
            choices={"driving": "the drive of one day", "everything": "driving, charging and rest"},
        ),
    ] = "driving"
    cycling_between: Annotated[
        Literal["charges", "states_of_charge"],
        about(
            "Cycling of an aged battery",
            "The same charge at any health; or between the same states of charge of the present capacity, as in ageing "
            "tests, so that charge and current fall with capacity. The latter needs histories of current.",
            example="charges",
            choices={"charges": "the same charge", "states_of_charge": "between limits of the present capacity"},
        ),
    ] = "charges"
    distance_km_per_day: Annotated[
        Kilometres | None, about("Distance per working day", "Only for the cost per km.", unit="km", example=60)
    ] = None
    climate: Annotated[
        str | None,
        about(
            "Climate",
            "Ambient temperature by month, by name, or by hour, by the path of a weather file (EPW, TMY3); give either "
            "this or an ambient temperature.",
            example="temperate",
            shipped="climates",
        ),
    ] = None
    ambient_C: Annotated[
        Celsius | TwelveMonths | None,
        about(
            "Ambient temperature",
            "One number for the whole year, or 12 monthly means; give either this or a climate.",
            unit="°C",
            example=20,
        ),
    ] = None
    day: Annotated[Day, about("Working day", "Drive, then charge, then rest for what is left of 24 h.")] = Day()

    def runs_per_year(self, length_s: float) -> float:
        """How often a year holds what was recorded: a working day, or a whole log repeated without a pause [1/year].

        Args:
            length_s: Length of what was recorded [s], > 0.
        """
        if self.working_days_per_year is not None:
            return self.working_days_per_year
        return DAYS_PER_YEAR * SECONDS_PER_DAY / length_s

    @property
    def ambient(self) -> str | float | tuple[float, ...]:
        """The climate's name, or the ambient temperature [°C]: one number or 12 monthly means."""
        given = self.ambient_C if self.climate is None else self.climate
        assert given is not None  # noqa: S101 - exactly one of the two is given
        return given

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


class VehicleSection(Section):
    """The vehicle that turns a speed into a power."""

    model_config = ConfigDict(title="Vehicle")

    mass_kg: Annotated[Kilograms, about("Mass", "Loaded, as driven.", unit="kg", example=1800)]
    rolling_resistance: Annotated[
        float,
        Field(ge=0.0, le=0.2),
        about("Rolling resistance coefficient", "Force by weight.", unit="1", example=0.01),
    ]
    drag_area_m2: Annotated[
        SquareMetres, about("Drag area", "Drag coefficient times frontal area.", unit="m²", example=0.65)
    ]
    rotating_mass_fraction: Annotated[
        float,
        Field(ge=0.0, le=1.0),
        about(
            "Rotating mass", "Inertia of wheels and machine, as a fraction of the mass.", unit="fraction", example=0.05
        ),
    ] = 0.0
    drive_efficiency: Annotated[
        Efficiency,
        about("Efficiency between wheel and DC link", "Constant, in both directions.", unit="fraction", example=0.9),
    ] = 1.0
    recuperation_fraction: Annotated[
        Fraction,
        about("Braking energy recuperated", "The rest is taken by the friction brakes.", unit="fraction", example=0.7),
    ] = 1.0
    auxiliary_W: Annotated[Watts, about("Auxiliary power", "Drawn all the time.", unit="W", example=600)] = 0.0
