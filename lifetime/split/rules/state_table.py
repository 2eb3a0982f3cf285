"""A table of rules: the power request and the ultracapacitor's level decide the battery's fraction."""

from collections.abc import Hashable
from typing import Annotated, ClassVar, Literal, Self

from pydantic import Field, model_validator

from lifetime.keys import about
from lifetime.ranges import Volts, VoltsOrZero
from lifetime.section import Section
from lifetime.split.controlled import SteppedRule
from lifetime.split.rule import BatteryCircuit, Step

Request = Literal["traction", "braking", "any"]
Level = Literal["low", "middle", "high", "any"]


class TableRow(Section):
    """One row: when it applies, and what the battery then takes."""

    request: Annotated[
        Request,
        about(
            "Request",
            "The row applies while the machine asks for traction, while it brakes, or always.",
            example="traction",
        ),
    ] = "any"
    level: Annotated[
        Level,
        about(
            "Ultracapacitor level",
            "The row applies while the ultracapacitor's voltage is at this level, or always.",
            example="low",
        ),
    ] = "any"
    battery_fraction: Annotated[
        float,
        Field(ge=-10.0, le=10.0),
        about(
            "Battery's fraction",
            "Fraction of the demand that the battery takes; beyond 0 to 1 one source charges the other.",
            unit="fraction",
            example=0.5,
        ),
    ]


class StateTable(SteppedRule, title="State table"):
    """The first row that fits decides; where none does, the battery takes all.

    The bank is low below one voltage and high above another; it only changes level when it passes the edge by half the
    hysteresis, so that it does not switch back and forth between two rows.

    Source:
        Rule tables on the sign of the power request and the sources' states; common practice, no source.
    """

    summary: ClassVar[str] = (
        "The battery takes the `battery_fraction` of the first row that fits the `request` (`traction`, `braking`, "
        "`any`) and the ultracapacitor's `level` (`low`, `middle`, `high`, `any`); all of it where none fits."
    )

    bank_voltages: ClassVar[tuple[str, ...]] = ("low_voltage_V", "high_voltage_V", "hysteresis_V")

    rule: Literal["state_table"] = "state_table"
    rows: Annotated[
        tuple[TableRow, ...],
        Field(min_length=1, max_length=100, strict=False),
        about(
            "Rows",
            "In order: the first row that fits decides.",
            example=[{"request": "traction", "level": "low", "battery_fraction": 1.0}],
        ),
    ]
    low_voltage_V: Annotated[
        Volts, about("Low below", "Ultracapacitor voltage below which its level is low.", unit="V", example=300.0)
    ]
    high_voltage_V: Annotated[
        Volts, about("High above", "Ultracapacitor voltage above which its level is high.", unit="V", example=500.0)
    ]
    hysteresis_V: Annotated[
        VoltsOrZero,
        about("Hysteresis", "Width of each edge: the level changes half of it beyond the edge.", unit="V", example=5.0),
    ] = 0.0

    @model_validator(mode="after")
    def _ordered(self) -> Self:
        if self.low_voltage_V + self.hysteresis_V > self.high_voltage_V:
            raise ValueError("low_voltage_V plus hysteresis_V must not exceed high_voltage_V")
        return self

    def start(self, battery: BatteryCircuit | None) -> Hashable:
        """No level yet."""
        return "unknown"

    def ultracapacitor_setpoint_W(self, step: Step) -> tuple[float, Hashable]:
        """What the first row that fits leaves to the ultracapacitor; the state is the level."""
        level = self._level(step.ultracapacitor_voltage_V, step.state)
        request = "traction" if step.demand_W >= 0.0 else "braking"
        for row in self.rows:
            if row.request in (request, "any") and row.level in (level, "any"):
                return step.demand_W * (1.0 - row.battery_fraction), level
        return 0.0, level

    def _level(self, voltage_V: float, before: Hashable) -> Level:
        half = 0.5 * self.hysteresis_V
        low = self.low_voltage_V + (half if before == "low" else -half)
        high = self.high_voltage_V + (-half if before == "high" else half)
        if voltage_V < low:
            return "low"
        return "high" if voltage_V > high else "middle"
