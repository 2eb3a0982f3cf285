"""Sections of a study file on how a life is judged: end of life, counting, cost."""

from typing import Annotated, Literal

from pydantic import ConfigDict, Field

from lifetime.keys import about
from lifetime.ranges import Money
from lifetime.section import Section


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
