"""Sections of a study file on the two sources, and what all sections share; units are in the key names."""

from typing import Annotated, Literal

from pydantic import ConfigDict, Field, model_validator

from lifetime.keys import about
from lifetime.ranges import (
    AmpereHours,
    Amperes,
    Efficiency,
    Fraction,
    Ohms,
    Volts,
    VoltsOrZero,
    Watts,
)
from lifetime.section import Section
from lifetime.study.heat import CoolantSection, ThermalPath
from lifetime.study.limits import BatteryLimits
from lifetime.study.pack_keys import (
    BankVoltages,
    GrowthPerCalendarLoss,
    GrowthPerCyclicLoss,
    PackVoltages,
)
from lifetime.study.prices import BatteryPrice, UltracapacitorPrice

Cells = Annotated[int, Field(ge=1, le=100_000)]


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
    voltages_of: PackVoltages = "pack"
    minimum_voltage_V: Annotated[
        Volts | None,
        about(
            "Lowest pack voltage",
            "Of the whole pack unless voltages_of says otherwise; the cell's own limit unless given.",
            unit="V",
            example=450,
        ),
    ] = None
    maximum_voltage_V: Annotated[
        Volts | None,
        about(
            "Highest pack voltage",
            "Of the whole pack unless voltages_of says otherwise; the cell's own limit unless given.",
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
    resistance_per_calendar_loss: GrowthPerCalendarLoss = 2.0
    resistance_per_cyclic_loss: GrowthPerCyclicLoss = 2.0
    thermal: Annotated[
        ThermalPath | None,
        about(
            "Thermal model of the pack",
            "A lumped pack cooled by coolant or air; without it the cells are at ambient temperature.",
        ),
    ] = None
    coolant: Annotated[
        CoolantSection | None,
        about(
            "Coolant held at a setpoint",
            "With a heater, a cooler or both, whose energy is bought; without it ambient air surrounds the pack.",
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
    price: Annotated[BatteryPrice, about("Price of the pack", "For the whole pack, by its rated energy or by cell.")]

    @model_validator(mode="after")
    def _ordered(self) -> "Battery":
        if not self.minimum_soc <= self.start_soc <= self.maximum_soc:
            raise ValueError("start_soc must lie between minimum_soc and maximum_soc; change one of the three")
        return self

    def of_pack(self) -> "Battery":
        """The same with voltages of the whole pack."""
        if self.voltages_of == "pack":
            return self
        whole = self.times_series(("minimum_voltage_V", "maximum_voltage_V"), self.series)
        return whole.model_copy(update={"voltages_of": "pack"})


class Ultracapacitor(Section):
    """The ultracapacitor bank; voltages are those of the whole bank unless ``voltages_of`` says otherwise."""

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
        Cells, about("Cells in series", "Number of cells, or of parallel groups, in series.", unit="1", example=216)
    ]
    parallel: Annotated[Cells, about("Cells in parallel", "Number of strings.", unit="1", example=1)]
    voltages_of: BankVoltages = "bank"
    start_voltage_V: Annotated[
        Volts,
        about("Voltage at the start of the day", "Within the voltage window.", unit="V", example=480),
    ]
    minimum_voltage_V: Annotated[
        Volts, about("Lowest voltage allowed", "Lower end of the voltage window.", unit="V", example=270)
    ]
    maximum_voltage_V: Annotated[
        Volts | None,
        about(
            "Highest voltage allowed",
            "Upper end of the voltage window; rated voltage of the cells unless given.",
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
    esr_rate_ratio: Annotated[
        float | None,
        Field(ge=0.5, le=5.0),
        about(
            "Ageing of ESR over that of capacitance",
            "At 1 both limits are reached together, at 2 that of ESR in half the time; 1 to 2 is plausible. The one of "
            "the parameter set unless given.",
            unit="1",
            example=1.5,
        ),
    ] = None
    rms_current_coefficient_per_A: Annotated[
        float | None,
        Field(ge=0.0, le=0.1),
        about(
            "Ageing by current",
            "While the bank is loaded, its cells age faster by the exponential of this times their rms current. The "
            "one of the parameter set, which is 0 in the shipped ones, unless given.",
            unit="1/A",
            example=0.0075,
        ),
    ] = None
    initial_surplus_fraction: Annotated[
        float,
        Field(ge=0.0, le=0.2),
        about(
            "Initial capacitance above the rated one",
            "Makers deliver up to 20 % more, 5 to 12 % on average; the limit of capacitance is then of the rated one.",
            unit="fraction",
            example=0.1,
        ),
    ] = 0.0
    capacitance_deviation_fraction: Annotated[
        float,
        Field(ge=0.0, le=0.1),
        about(
            "Spread of capacitance over the cells",
            "Standard deviation over the mean, about 0.01 to 0.02 for cells of one lot; the bank then ages as its "
            "weakest cell does.",
            unit="fraction",
            example=0.02,
        ),
    ] = 0.0
    balancing: Annotated[
        Literal["top", "half", "bottom"],
        about(
            "Where balancing acts",
            "The voltage at which all cells are made equal; only with a spread of capacitance.",
            example="half",
            choices={
                "top": "at the highest voltage",
                "half": "at half the rated voltage",
                "bottom": "at the lowest voltage, or nowhere",
            },
        ),
    ] = "top"
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
    refill_efficiency: Annotated[
        Efficiency,
        about(
            "Efficiency of refilling",
            "Between the battery and the bank while the vehicle stands: from rest to the voltage at the start, and "
            "what is left at the end of the day.",
            unit="fraction",
            example=0.95,
        ),
    ] = 0.95
    energy_at_rest: Annotated[
        Literal["returned", "lost"],
        about(
            "Energy above the voltage at rest",
            "Whether what the bank holds above it at the end of the day goes back to the battery or leaks away.",
            example="returned",
            choices={"returned": "driven back into the battery", "lost": "left to leak away"},
        ),
    ] = "returned"
    standby_W: Annotated[
        Watts,
        about(
            "Leakage and balancing",
            "Power that leakage and balancing of the whole bank take, day and night.",
            unit="W",
            example=3,
        ),
    ] = 0.0
    price: Annotated[
        UltracapacitorPrice, about("Price of the bank", "For the whole bank, by cell or per farad of one cell.")
    ]

    @model_validator(mode="after")
    def _ordered(self) -> "Ultracapacitor":
        if self.minimum_voltage_V > self.start_voltage_V:
            raise ValueError(
                f"start_voltage_V must not lie below minimum_voltage_V ({self.minimum_voltage_V:g} V), got "
                f"{self.start_voltage_V:g} V"
            )
        return self

    def of_bank(self) -> "Ultracapacitor":
        """The same with voltages of the whole bank."""
        if self.voltages_of == "bank":
            return self
        keys = ("start_voltage_V", "minimum_voltage_V", "maximum_voltage_V", "rest_voltage_V")
        return self.times_series(keys, self.series).model_copy(update={"voltages_of": "bank"})
