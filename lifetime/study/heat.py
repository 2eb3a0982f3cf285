"""Sections of a study file on the heat of a pack: its path to coolant or air, and a coolant that is held."""

from typing import Annotated

from pydantic import Field, model_validator

from lifetime.keys import about
from lifetime.ranges import SHORTEST_TIME_CONSTANT_S, Celsius, CoefficientOfPerformance, JoulesPerKelvin, KelvinPerWatt
from lifetime.section import Section


class ThermalPath(Section):
    """A lumped pack on its way to coolant or ambient air."""

    resistance_K_per_W: Annotated[
        KelvinPerWatt,
        about(
            "Thermal resistance to coolant or air", "From the whole pack to what cools it.", unit="K/W", example=0.02
        ),
    ]
    heat_capacity_J_per_K: Annotated[
        JoulesPerKelvin, about("Heat capacity", "Of the whole pack.", unit="J/K", example=150000)
    ]
    hot_spot_K: Annotated[
        float,
        Field(ge=0.0, le=40.0),
        about(
            "Hottest cell above the mean",
            "Added to the mean cell temperature while the pack is loaded.",
            unit="K",
            example=3,
        ),
    ] = 0.0

    @model_validator(mode="after")
    def _warms_slowly_enough(self) -> "ThermalPath":
        time_constant_s = self.resistance_K_per_W * self.heat_capacity_J_per_K
        if time_constant_s < SHORTEST_TIME_CONSTANT_S:
            raise ValueError(
                f"resistance_K_per_W times heat_capacity_J_per_K is a time constant of {time_constant_s:.3g} s, "
                f"expected at least {SHORTEST_TIME_CONSTANT_S:g} s; a pack takes minutes to hours. Check their units"
            )
        return self


class CoolantSection(Section):
    """A coolant circuit that a heater, a cooler or both hold at a setpoint, day and night."""

    setpoint_C: Annotated[
        Celsius, about("Setpoint of the coolant", "Surrounds the cells in place of ambient air.", unit="°C", example=20)
    ]
    resistance_K_per_W: Annotated[
        KelvinPerWatt,
        about(
            "Thermal resistance to ambient air",
            "From the pack with its coolant circuit to the air; through it flows what heater and cooler make up for.",
            unit="K/W",
            example=0.1,
        ),
    ]
    heating_cop: Annotated[
        CoefficientOfPerformance | None,
        about(
            "Heat per energy of the heater",
            "1 for a resistance heater; empty without a heater, so that the pack is as cold as the air.",
            unit="1",
            example=1.0,
        ),
    ] = None
    cooling_cop: Annotated[
        CoefficientOfPerformance | None,
        about(
            "Heat per energy of the cooler",
            "2 to 3 for a chiller; empty without a cooler, so that the pack is as warm as the air.",
            unit="1",
            example=2.5,
        ),
    ] = None

    @model_validator(mode="after")
    def _held_by_something(self) -> "CoolantSection":
        if self.heating_cop is None and self.cooling_cop is None:
            raise ValueError("give heating_cop, cooling_cop or both: without either nothing holds the setpoint")
        return self
