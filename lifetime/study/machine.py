"""Section of a study file on the machine: what its two winding sets lose."""

from typing import Annotated

from pydantic import ConfigDict, Field

from lifetime.keys import about
from lifetime.section import Section


class MachineSection(Section):
    """Copper loss of the machine, for every strategy that splits a demand."""

    model_config = ConfigDict(title="Machine")

    rated_power_W: Annotated[
        float,
        Field(ge=1e-3, le=1e12),
        about("Rated power", "Of the whole machine; its copper loss is given at this power.", unit="W", example=100000),
    ]
    copper_loss_fraction: Annotated[
        float,
        Field(ge=0.0, le=0.3),
        about(
            "Copper loss at rated power",
            "Over the rated power, both winding sets sharing the torque evenly; 0.02 to 0.05 is usual. It grows with "
            "the square of the power, a lower bound below the speed of rated power. Leave it out of the demand and of "
            "vehicle.drive_efficiency.",
            unit="fraction",
            example=0.03,
        ),
    ]
    ultracapacitor_resistance_ratio: Annotated[
        float,
        Field(ge=0.01, le=100.0),
        about(
            "Resistance of the ultracapacitor's winding set",
            "Over that of the battery's winding set; only with two inverters.",
            unit="1",
            example=1.0,
        ),
    ] = 1.0
