"""Sections of a study file on the two sources, and what all sections share; units are in the key names."""

from typing import Annotated, Literal

from pydantic import ConfigDict, Field, model_validator

from lifetime.keys import about
from lifetime.ranges import (
    AmpereHours,
    Amperes,
    Fraction,
    JoulesPerKelvin,
    KelvinPerWatt,
    Money,
    Ohms,
    Volts,
    VoltsOrZero,
)
from lifetime.section import Section
from lifetime.study.limits import BatteryLimits

Cells = Annotated[int, Field(ge=1, le=100_000)]


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


class OpenCircuit(Section):
    """The user's own open-circuit curve in place of the profile's typical one."""

    soc: Annotated[
        tuple[Fraction, ...],
        Field(min_length=2, max_length=1000, strict=False),
        about(
            "State of charge of the points", "From empty to full, increasing.", unit="fraction", example=[0.0, 0.5, 1.0]
        ),
    ]
    voltage_V: Annotated[
        tuple[Volts, ...],
        Field(min_length=2, max_length=1000, strict=False),
        about(
            "Open-circuit voltage at these points",
            "Of one cell, one value for each point.",
            unit="V",
            example=[3.0, 3.3, 3.4],
        ),
    ]
    label: Annotated[
        str, about("Origin of the curve", "Named in the report as its source.", example="measured at C/20, 25 °C")
    ] = "given in the study"


class BatteryPrice(Section):
    """What the battery pack costs: for the whole pack, or by rated energy."""

    purchase: Annotated[
        Money | None,
        about("Price of the whole pack", "Give either this or the price per kWh.", unit="currency", example=8000),
    ] = None
    purchase_per_kWh: Annotated[
        Money | None,
        about(
            "Price per kWh of rated energy",
            "Give either this or the price of the whole pack.",
            unit="currency/kWh",
            example=160,
        ),
    ] = None
    replacement_labour: Annotated[
        Money,
        about("Labour per replacement", "Added each time the pack is replaced.", unit="currency", example=500),
    ] = 0.0

    @model_validator(mode="after")
    def _one_price(self) -> "BatteryPrice":
        if (self.purchase is None) == (self.purchase_per_kWh is None):
            raise ValueError("give either purchase (whole pack) or purchase_per_kWh, not both or neither")
        return self


class UltracapacitorPrice(Section):
    """What the bank costs: for the whole bank, or by the farad of one cell times the number of cells."""

    purchase: Annotated[
        Money | None,
        about("Price of the whole bank", "Give either this or the price per farad.", unit="currency", example=4000),
    ] = None
    purchase_per_farad_cell: Annotated[
        Money | None,
        about(
            "Price per farad of one cell",
            "Times the farads of one cell and the number of cells; give either this or the price of the bank.",
            unit="currency/F",
            example=0.012,
        ),
    ] = None
    replacement_labour: Annotated[
        Money,
        about("Labour per replacement", "Added each time the bank is replaced.", unit="currency", example=300),
    ] = 0.0

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

    model_config = ConfigDict(title="Battery pack")

    cell: Annotated[
        str,
        about(
            "Cell",
            "Parameter set of the cell, by its id.",
            example="lfp_naumann_2020",
            shipped="batteries",
        ),
    ]
    series: Annotated[
        Cells, about("Cells in series", "Number of cells, or of parallel groups, in series.", unit="1", example=180)
    ]
    parallel: Annotated[
        Cells, about("Cells in parallel", "Number of strings, or of cells in a group.", unit="1", example=40)
    ]
    cell_capacity_Ah: Annotated[
        AmpereHours | None,
        about(
            "Capacity of your cell",
            "Resistance and mass are scaled with it; the parameter set's own unless given.",
            unit="Ah",
            example=50,
        ),
    ] = None
    start_soc: Annotated[
        Fraction,
        about("State of charge at the start of the day", "Within the two bounds below.", unit="fraction", example=0.9),
    ]
    minimum_soc: Annotated[
        Fraction,
        about("Lowest state of charge allowed", "Below it the demand counts as not met.", unit="fraction", example=0.1),
    ] = 0.0
    maximum_soc: Annotated[
        Fraction,
        about(
            "Highest state of charge allowed", "Above it the pack takes no more charge.", unit="fraction", example=0.95
        ),
    ] = 1.0
    minimum_voltage_V: Annotated[
        Volts | None,
        about(
            "Lowest pack voltage",
            "Of the whole pack; the cell's limit times the cells in series unless given.",
            unit="V",
            example=450,
        ),
    ] = None
    maximum_voltage_V: Annotated[
        Volts | None,
        about(
            "Highest pack voltage",
            "Of the whole pack; the cell's limit times the cells in series unless given.",
            unit="V",
            example=650,
        ),
    ] = None
    resistance_ohm: Annotated[
        Ohms | None,
        about(
            "Resistance of the whole pack",
            "The cell's value scaled by the number of cells unless given.",
            unit="ohm",
            example=0.12,
        ),
    ] = None
    thermal: Annotated[
        ThermalPath | None,
        about(
            "Thermal model of the pack",
            "A lumped pack cooled by coolant or air; without it the cells are at ambient temperature.",
        ),
    ] = None
    open_circuit: Annotated[
        OpenCircuit | None,
        about("Open-circuit curve of your own", "In place of the typical curve of the parameter set."),
    ] = None
    limits: Annotated[
        BatteryLimits | None,
        about(
            "Limits of current and power",
            "The maximum current of the parameter set holds besides; regeneration beyond the limits goes to the "
            "friction brakes, traction beyond them counts as not met.",
        ),
    ] = None
    price: Annotated[BatteryPrice, about("Price of the pack", "For the whole pack, or by its rated energy.")]

    @model_validator(mode="after")
    def _ordered(self) -> "Battery":
        if not self.minimum_soc <= self.start_soc <= self.maximum_soc:
            raise ValueError("start_soc must lie between minimum_soc and maximum_soc; change one of the three")
        return self


class Ultracapacitor(Section):
    """The ultracapacitor bank; voltages are those of the whole bank."""

    model_config = ConfigDict(title="Ultracapacitor bank")

    cell: Annotated[
        str,
        about(
            "Cell",
            "Parameter set of the cell, by its id.",
            example="edlc_3000F_10K_0p2V",
            shipped="ultracapacitors",
        ),
    ]
    series: Annotated[
        Cells, about("Cells in series", "All voltages below are those of the whole bank.", unit="1", example=216)
    ]
    parallel: Annotated[Cells, about("Cells in parallel", "Number of strings.", unit="1", example=1)]
    start_voltage_V: Annotated[
        Volts,
        about("Voltage at the start of the day", "Of the whole bank, within its window.", unit="V", example=480),
    ]
    minimum_voltage_V: Annotated[
        Volts, about("Lowest voltage allowed", "Lower end of the voltage window.", unit="V", example=270)
    ]
    maximum_voltage_V: Annotated[
        Volts | None,
        about(
            "Highest voltage allowed",
            "Upper end of the voltage window; rated voltage times the cells in series unless given.",
            unit="V",
            example=560,
        ),
    ] = None
    rest_voltage_V: Annotated[
        VoltsOrZero,
        about(
            "Voltage at rest",
            "At which the bank is kept while the vehicle does not work; it governs calendar ageing.",
            unit="V",
            example=300,
        ),
    ]
    maximum_current_A: Annotated[
        Amperes | None,
        about(
            "Largest current", "Of the whole bank; the peak current of its cells unless given.", unit="A", example=1500
        ),
    ] = None
    fade_shape: Annotated[
        Literal["linear", "square_root", "burn_in_linear"] | None,
        about(
            "Shape of the capacitance loss over time",
            "The one of the parameter set unless given.",
            example="linear",
            choices={
                "linear": "linear in time",
                "square_root": "with the square root of time",
                "burn_in_linear": "burn-in, then linear",
            },
        ),
    ] = None
    thermal: Annotated[
        ThermalPath | None,
        about(
            "Thermal model of the bank",
            "A lumped bank cooled by coolant or air; without it the cells are at ambient temperature.",
        ),
    ] = None
    balance_at_charger: Annotated[
        bool,
        about(
            "Balance closed at the charger",
            "Only for a history of the bank without a measured voltage: a charger holds the bank's balance with a "
            "constant current while it drives.",
            example=True,
        ),
    ] = False
    price: Annotated[UltracapacitorPrice, about("Price of the bank", "For the whole bank, or per farad of one cell.")]

    @model_validator(mode="after")
    def _ordered(self) -> "Ultracapacitor":
        if self.minimum_voltage_V > self.start_voltage_V:
            raise ValueError(
                f"start_voltage_V must not lie below minimum_voltage_V ({self.minimum_voltage_V:g} V), got "
                f"{self.start_voltage_V:g} V"
            )
        return self
