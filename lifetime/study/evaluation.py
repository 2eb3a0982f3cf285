"""Sections of a study file on how a life is judged: end of life, counting, cost."""

from typing import Annotated, Literal

from pydantic import ConfigDict, Field

from lifetime.constants import LIFE_SEARCH_YEARS, ZERO_CELSIUS_K
from lifetime.keys import about
from lifetime.projection.power_corner import PowerCorner
from lifetime.ranges import Celsius, Fraction, Money
from lifetime.section import Section
from lifetime.stress.counting import CycleCounting, CycleRate, SmallCycles


class BatteryPower(Section):
    """The corner in which an aged battery must still give its strategy's power."""

    model_config = ConfigDict(title="Battery power at end of life")

    soc: Annotated[
        Fraction,
        about(
            "State of charge",
            "Lowest at which the pulse is asked for.",
            unit="fraction",
            example=0.2,
        ),
    ]
    temperature_C: Annotated[
        Celsius, about("Temperature", "Lowest of the cells at which the pulse is asked for.", unit="°C", example=-10)
    ]
    duration_s: Annotated[
        float,
        Field(ge=0.1, le=300.0),
        about(
            "Duration",
            "Length of the pulse. The battery must give the largest running mean over it that the strategy asks of it.",
            unit="s",
            example=10,
        ),
    ]

    def corner(self) -> PowerCorner:
        """The keys as the projection takes them."""
        return PowerCorner(self.soc, self.temperature_C + ZERO_CELSIUS_K, self.duration_s)


class EndOfLife(Section):
    """Limits that end a source's life; the defaults are those in common use (80 %, twice the resistance)."""

    model_config = ConfigDict(title="End of life")

    battery_capacity: Annotated[
        float,
        Field(gt=0.2, lt=1.0),
        about("Battery capacity at end of life", "Of the initial capacity.", unit="fraction", example=0.8),
    ] = 0.80
    battery_resistance: Annotated[
        float,
        Field(gt=1.0, le=10.0),
        about("Battery resistance at end of life", "As a multiple of the initial resistance.", unit="1", example=2),
    ] = 2.0
    battery_power: Annotated[
        BatteryPower | None,
        about(
            "Battery power at end of life",
            "Life also ends where the aged battery no longer gives the strategy's own battery power at this state of "
            "charge and temperature; no criterion of its own unless given.",
        ),
    ] = None
    ultracapacitor_capacitance: Annotated[
        float,
        Field(gt=0.2, lt=1.0),
        about(
            "Ultracapacitor capacitance at end of life",
            "Of the rated capacitance: the initial one unless ultracapacitor.initial_surplus_fraction is given.",
            unit="fraction",
            example=0.8,
        ),
    ] = 0.80
    ultracapacitor_esr: Annotated[
        float,
        Field(gt=1.0, le=10.0),
        about(
            "Ultracapacitor ESR at end of life",
            "As a multiple of the initial equivalent series resistance.",
            unit="1",
            example=2,
        ),
    ] = 2.0
    battery_longest_life_years: Annotated[
        float,
        Field(ge=1.0, le=LIFE_SEARCH_YEARS),
        about(
            "Longest life of the battery",
            "Cost goes by this where the ageing model gives a longer life: ageing tests last some years, makers "
            "warrant 8 to 10 and design for up to 20; 50 lifts the cap.",
            unit="years",
            example=20,
        ),
    ] = 20.0  # the three figures are common practice, no source
    ultracapacitor_longest_life_years: Annotated[
        float,
        Field(ge=1.0, le=LIFE_SEARCH_YEARS),
        about(
            "Longest life of the ultracapacitor bank",
            "Cost goes by this where the ageing model gives a longer life: makers rate 10 years at rated voltage and "
            "25 °C; 50 lifts the cap.",
            unit="years",
            example=15,
        ),
    ] = 15.0


class Counting(Section):
    """How cycles are counted."""

    model_config = ConfigDict(title="Cycle counting")

    smallest_battery_depth_of_discharge: Annotated[
        float,
        Field(ge=0.0, le=0.2),
        about(
            "Smallest depth of discharge counted",
            "Battery cycles of this depth or less are left out; the result says how much ageing that removes.",
            unit="fraction",
            example=0.005,
        ),
    ] = 0.0
    small_cycles: Annotated[
        SmallCycles,
        about(
            "Weight of small cycles",
            'For the battery: "smooth" weighs each cycle by d⁴ / (d⁴ + d0⁴) of its depth of discharge d, "all" counts '
            'every cycle in full, "none" leaves out those below 2 %.',
            example="smooth",
            choices={"all": "every cycle in full", "smooth": "smooth by depth", "none": "none below 2 %"},
        ),
    ] = "smooth"
    half_weight_depth_of_discharge: Annotated[
        float,
        Field(ge=0.001, le=0.1),
        about(
            "Depth of discharge of weight one half",
            'The d0 of small_cycles = "smooth"; 0.01 to 0.02 is in keeping with tests.',
            unit="fraction",
            example=0.01,
        ),
    ] = 0.01
    cycle_rate: Annotated[
        CycleRate,
        about(
            "C-rate of a cycle",
            'For the battery: "time_mean" is the mean of |current| over a half cycle with its rests, the optimistic '
            'bound; "throughput_weighted" is the pessimistic one.',
            example="time_mean",
            choices={"time_mean": "mean over time", "throughput_weighted": "mean over throughput"},
        ),
    ] = "time_mean"
    averaging_s: Annotated[
        float,
        Field(ge=0.0, le=60.0),
        about(
            "Averaging before counting",
            "Battery cycles are counted of the current averaged over this long, against noise; 0 for not at all. "
            "Energy and heat are those of the current as it is.",
            unit="s",
            example=1,
        ),
    ] = 1.0
    dead_band_c_rate: Annotated[
        float,
        Field(ge=0.0, le=0.1),
        about(
            "Dead band at rest",
            "Up to this current the battery rests, and its current is averaged over a minute before cycles are "
            "counted; 0 for none.",
            unit="1/h",
            example=0.02,
        ),
    ] = 0.02

    def convention(self) -> CycleCounting:
        """The keys as the one object that counting and weighing go by."""
        return CycleCounting(
            small_cycles=self.small_cycles,
            smooth_depth=self.half_weight_depth_of_discharge,
            cycle_rate=self.cycle_rate,
            averaging_s=self.averaging_s,
            dead_band_c_rate=self.dead_band_c_rate,
        )


class Cost(Section):
    """Prices and discounting; prices are in today's money, the rate is a real one."""

    model_config = ConfigDict(title="Cost")

    currency: Annotated[
        str,
        Field(min_length=1, max_length=12),
        about("Currency", "All prices are in constant prices of this currency.", example="EUR"),
    ]
    discount_rate: Annotated[
        float,
        Field(ge=0.0, le=1.0),
        about(
            "Real discount rate", "Without inflation, since prices are constant.", unit="fraction/year", example=0.06
        ),
    ]
    electricity_per_kWh: Annotated[
        Money,
        about(
            "Price of electricity",
            "For all energy bought at the charger; without charging from outside for the energy lost.",
            unit="currency/kWh",
            example=0.2,
        ),
    ] = 0.0
    downtime_per_day: Annotated[
        Money,
        about(
            "Cost of a day out of work",
            "Times the days that a replacement takes; these are given with the price of each source.",
            unit="currency/day",
            example=400,
        ),
    ] = 0.0
    residual_value: Annotated[
        Literal["straight_line", "second_life", "none"],
        about(
            "Residual value at the end of service",
            "What is credited for the last pack. The result says where the order of strategies hangs on this choice.",
            example="straight_line",
            choices={
                "straight_line": "price less the used share of its life, at least its second-life value",
                "second_life": "only its second-life value",
                "none": "nothing",
            },
        ),
    ] = "straight_line"
    rank_unequal_duty: Annotated[
        bool,
        about(
            "Rank strategies of unequal duty",
            "Ranks all the same where duration, distance or delivered energy of a day differ by more than 1 %, or its "
            "net change of stored energy is too large.",
            example=False,
        ),
    ] = False
