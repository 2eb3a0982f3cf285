"""Keys of a battery pack or an ultracapacitor bank: whose voltages are given, and how resistance grows."""

from typing import Annotated, Literal

from pydantic import Field

from lifetime.keys import about

PackVoltages = Annotated[
    Literal["pack", "cell"],
    about(
        "Voltages are those of",
        "Whether the voltages of this section are those of the whole pack or of one cell; of one cell they stay right "
        "where the cells in series change.",
        example="cell",
        choices={"pack": "the whole pack", "cell": "one cell"},
    ),
]
BankVoltages = Annotated[
    Literal["bank", "cell"],
    about(
        "Voltages are those of",
        "Whether the voltages of this section and of the split rules are those of the whole bank or of one cell; of "
        "one cell they stay right where the cells in series change.",
        example="cell",
        choices={"bank": "the whole bank", "cell": "one cell"},
    ),
]
GrowthPerCalendarLoss = Annotated[
    float,
    Field(ge=0.0, le=5.0),
    about(
        "Resistance growth per calendar loss",
        "Only for an ageing model without resistance growth: growth over the initial resistance, over the calendar "
        "loss of capacity. A convention, 0.5 to 5; 0 for no growth.",
        unit="1",
        example=2,
    ),
]
GrowthPerCyclicLoss = Annotated[
    float,
    Field(ge=0.0, le=5.0),
    about("Resistance growth per cyclic loss", "The same over the cyclic loss of capacity.", unit="1", example=2),
]
