"""Section of a study file on a coolant that is held at a setpoint."""

from typing import Annotated

from pydantic import model_validator

from lifetime.keys import about
from lifetime.ranges import Celsius, CoefficientOfPerformance, KelvinPerWatt
from lifetime.section import Section


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
