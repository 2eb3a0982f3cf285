"""Any controller's map: the battery's fraction over demand and ultracapacitor voltage."""

from bisect import bisect_right
from collections.abc import Hashable
from itertools import pairwise
from typing import Annotated, ClassVar, Literal, Self

import numpy as np
from pydantic import Field, model_validator

from lifetime.keys import about
from lifetime.notices import Notice
from lifetime.split.controlled import SteppedRule
from lifetime.split.rule import Step
from lifetime.split.share import Demand

Point = Annotated[float, Field(ge=-1e12, le=1e12)]
Increasing = Annotated[tuple[Point, ...], Field(min_length=2, max_length=1000, strict=False)]
MapFraction = Annotated[float, Field(ge=-1e3, le=1e3)]
MapRow = Annotated[tuple[MapFraction, ...], Field(max_length=1000, strict=False)]


class Lookup(SteppedRule, title="Lookup table"):
    """The battery's fraction is read from a map, linear between its points and constant beyond its edges.

    Source:
        Bilinear interpolation; any textbook on numerical methods.
    """

    summary: ClassVar[str] = (
        "The battery takes the fraction that a map over demand and ultracapacitor voltage gives, linear between its "
        "points: any controller of demand and voltage can be approximated."
    )

    bank_voltages: ClassVar[tuple[str, ...]] = ("ultracapacitor_voltage_V",)

    rule: Literal["lookup"] = "lookup"
    demand_W: Annotated[
        Increasing,
        about(
            "Points of demand",
            "Increasing, at least two; negative while braking.",
            unit="W",
            example=[-50000.0, 0.0, 50000.0],
        ),
    ]
    ultracapacitor_voltage_V: Annotated[
        Increasing,
        about("Points of ultracapacitor voltage", "Increasing, at least two.", unit="V", example=[270.0, 540.0]),
    ]
    battery_fraction: Annotated[
        tuple[MapRow, ...],
        Field(min_length=2, max_length=1000, strict=False),
        about(
            "Battery's fraction",
            "One row for each point of demand, with one number for each point of voltage.",
            unit="fraction",
            example=[[0.2, 0.8], [1.0, 0.6], [0.9, 0.3]],
        ),
    ]

    @model_validator(mode="after")
    def _fits(self) -> Self:
        points = ("demand_W", self.demand_W), ("ultracapacitor_voltage_V", self.ultracapacitor_voltage_V)
        for name, values in points:
            if any(right <= left for left, right in pairwise(values)):
                raise ValueError(f"{name} must increase from point to point")
        if len(self.battery_fraction) != len(self.demand_W):
            raise ValueError("battery_fraction needs one row for each point of demand_W")
        if any(len(row) != len(self.ultracapacitor_voltage_V) for row in self.battery_fraction):
            raise ValueError("each row of battery_fraction needs one number for each point of ultracapacitor_voltage_V")
        return self

    def ultracapacitor_setpoint_W(self, step: Step) -> tuple[float, Hashable]:
        """What the map leaves to the ultracapacitor; there is no state."""
        fraction = self.fraction_at(step.demand_W, step.ultracapacitor_voltage_V)
        return step.demand_W * (1.0 - fraction), None

    def fraction_at(self, demand_W: float, ultracapacitor_voltage_V: float) -> float:
        """The battery's fraction at one point [1].

        Args:
            demand_W: Demand [W].
            ultracapacitor_voltage_V: Capacitor voltage of the bank [V].
        """
        row, down = _place(self.demand_W, demand_W)
        column, along = _place(self.ultracapacitor_voltage_V, ultracapacitor_voltage_V)
        upper, lower = self.battery_fraction[row], self.battery_fraction[row + 1]
        first = upper[column] + along * (upper[column + 1] - upper[column])
        second = lower[column] + along * (lower[column + 1] - lower[column])
        return first + down * (second - first)

    def demand_notices(self, demand: Demand) -> list[Notice]:
        """Where a demand leaves the map."""
        low, high = self.demand_W[0], self.demand_W[-1]
        power = self.converters.where_met(demand).power_W
        said = super().demand_notices(demand)
        beyond = float(np.mean((power < low) | (power > high)))
        if beyond == 0.0:
            return said
        text = (
            f"The demand is outside the map's {low:g} to {high:g} W in {100 * beyond:.1f} % of its intervals; there "
            "the battery's fraction is that of the edge."
        )
        return [*said, Notice("demand_beyond_map", text)]


def _place(points: tuple[float, ...], value: float) -> tuple[int, float]:
    """Which pair of points a value is between, and how far along, 0 to 1."""
    at = min(max(bisect_right(points, value) - 1, 0), len(points) - 2)
    along = (value - points[at]) / (points[at + 1] - points[at])
    return at, min(max(along, 0.0), 1.0)
