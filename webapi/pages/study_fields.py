"""The fields of the study form: each is named by its key in a study file, so that faults find their field."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final, Literal

from lifetime.packs.locate import shipped_ids
from lifetime.units import Quantity

Kind = Literal["number", "numbers", "whole", "text", "choice", "tick"]


@dataclass(frozen=True, slots=True)
class Field:
    """One field.

    Args:
        key: Path of keys in a study file.
        label: With its unit in square brackets.
        kind: What it takes.
        hint: One more sentence, or empty.
        default: What stands there at first.
        options: For a choice: value and words.
        required: Whether it must be filled in.
    """

    key: str
    label: str
    kind: Kind = "number"
    hint: str = ""
    default: str = ""
    options: Sequence[tuple[str, str]] = field(default=())
    required: bool = False


@dataclass(frozen=True, slots=True)
class Group:
    """Fields under one heading.

    Args:
        heading: The heading.
        fields: Its fields.
        note: A sentence below the heading, or empty.
    """

    heading: str
    fields: Sequence[Field]
    note: str = ""


def all_groups() -> list[Group]:
    """All fields but histories and strategies, with the shipped parameter sets and climates to choose from."""
    return groups(shipped_ids("batteries"), shipped_ids("ultracapacitors"), shipped_ids("climates"))


def groups(batteries: Sequence[str], banks: Sequence[str], climates: Sequence[str]) -> list[Group]:
    """All fields but histories and strategies.

    Args:
        batteries: Ids of battery parameter sets.
        banks: Ids of ultracapacitor parameter sets.
        climates: Names of climates.
    """
    return [_service(climates), _battery(batteries), _bank(banks), _END_OF_LIFE, _COST]


def _service(climates: Sequence[str]) -> Group:
    places = [("", "the same temperature all year, as given beside"), *((one, one) for one in climates)]
    return Group(
        "Service and duty",
        [
            Field("service.years", "Service life [years]", required=True),
            Field("service.working_days_per_year", "Working days a year", required=True),
            Field("service.distance_km_per_day", "Distance a working day [km]"),
            Field("service.climate", "Climate", "choice", options=places),
            Field("service.ambient_C", "Ambient [°C]", "numbers", "without a climate: one number, or 12 months"),
            Field("service.day.drive_repeats", "Histories driven a day [times]", "whole", default="1"),
            Field("service.day.charge_c_rate", "Charging rate [C]", hint="empty: never charged from outside"),
            Field("service.day.charge_to_soc", "Charged up to state of charge [0 to 1]"),
        ],
    )


def _battery(sets: Sequence[str]) -> Group:
    return Group(
        "Battery pack",
        [
            Field("battery.cell", "Cell", "choice", options=[(one, one) for one in sets], required=True),
            Field("battery.series", "Cells in series", "whole", required=True),
            Field("battery.parallel", "Cells in parallel", "whole", required=True),
            Field("battery.start_soc", "State of charge when the day begins [0 to 1]", required=True),
            Field("battery.minimum_soc", "Lowest state of charge allowed [0 to 1]", hint="empty: 0"),
            Field("battery.maximum_soc", "Highest state of charge allowed [0 to 1]", hint="empty: 1"),
            Field("battery.resistance_ohm", "Resistance of the whole pack [ohm]", hint="empty: from its cells"),
            *_thermal("battery"),
            Field("battery.price.purchase_per_kWh", "Price per kWh of rated energy"),
            Field("battery.price.purchase", "or price of the whole pack"),
            Field("battery.price.replacement_labour", "Labour of a replacement"),
        ],
    )


def _bank(sets: Sequence[str]) -> Group:
    return Group(
        "Ultracapacitor bank",
        [
            Field("ultracapacitor.cell", "Cell", "choice", options=[("", "no bank"), *((one, one) for one in sets)]),
            Field("ultracapacitor.series", "Cells in series", "whole"),
            Field("ultracapacitor.parallel", "Cells in parallel", "whole"),
            Field("ultracapacitor.start_voltage_V", "Bank voltage when the day begins [V]"),
            Field("ultracapacitor.minimum_voltage_V", "Lowest bank voltage [V]"),
            Field("ultracapacitor.rest_voltage_V", "Bank voltage at rest [V]"),
            Field("ultracapacitor.maximum_voltage_V", "Highest bank voltage [V]", hint="empty: rated"),
            Field("ultracapacitor.maximum_current_A", "Largest bank current [A]", hint="empty: from its cells"),
            *_thermal("ultracapacitor"),
            Field("ultracapacitor.price.purchase_per_farad_cell", "Price per farad of one cell"),
            Field("ultracapacitor.price.purchase", "or price of the whole bank"),
            Field("ultracapacitor.price.replacement_labour", "Labour of a replacement"),
        ],
        "Leave the cell at “no bank” where no strategy has one; the other fields are then ignored.",
    )


def _thermal(part: str) -> list[Field]:
    return [
        Field(f"{part}.thermal.resistance_K_per_W", "Heat path to ambient [K/W]", hint="empty: no thermal model"),
        Field(f"{part}.thermal.heat_capacity_J_per_K", "Heat capacity [J/K]"),
        Field(f"{part}.thermal.hot_spot_K", "Hottest cell above the mean [K]"),
    ]


_END_OF_LIFE: Final = Group(
    "End of life and counting",
    [
        Field("end_of_life.battery_capacity", "Battery ends at capacity [of new]", default="0.8"),
        Field("end_of_life.battery_resistance", "Battery ends at resistance [of new]", default="2"),
        Field("end_of_life.ultracapacitor_capacitance", "Bank ends at capacitance [of new]", default="0.8"),
        Field("end_of_life.ultracapacitor_esr", "Bank ends at ESR [of new]", default="2"),
        Field(
            "counting.smallest_battery_depth_of_discharge",
            "Battery cycles up to this depth are left out [0 to 0.2]",
            hint="0: every cycle counts",
            default="0",
        ),
    ],
)

_COST: Final = Group(
    "Cost",
    [
        Field("cost.currency", "Currency", "text", required=True),
        Field("cost.discount_rate", "Real discount rate [1/year]", hint="0.06 is 6 % a year", required=True),
        Field("cost.electricity_per_kWh", "Price of electricity per kWh"),
        Field("cost.residual_value", "Count the value left at the end of service", "tick", default="yes"),
    ],
)

WAYS: Final = (
    ("battery_only", "battery carries all"),
    ("low_pass", "low-pass filter"),
    ("power_limit", "power limit"),
    ("histories", "already split"),
)
"""How a strategy shares the power; the first three share a demand by a rule."""

SPLIT_FIELDS: Final = (
    Field("time_constant_s", "Time constant [s]", hint="low-pass filter"),
    Field("discharge_limit_W", "Battery discharges up to [W]", hint="power limit"),
    Field("charge_limit_W", "Battery charges up to [W]", hint="power limit"),
    Field("bank_target_voltage_V", "Bank pulled towards [V]", hint="may stay empty"),
    Field("bank_pull_time_constant_s", "Time constant of that pull [s]", hint="may stay empty"),
)
RULE_KEYS: Final = {
    "battery_only": (),
    "low_pass": ("time_constant_s", "bank_target_voltage_V", "bank_pull_time_constant_s"),
    "power_limit": ("discharge_limit_W", "charge_limit_W", "bank_target_voltage_V", "bank_pull_time_constant_s"),
}
"""Which of ``SPLIT_FIELDS`` a rule takes; what stands in the others is ignored."""

ROLE_WORDS: Final[Mapping[Quantity, str]] = {
    "time": "Time",
    "power": "Power (or current)",
    "current": "Current (or power)",
    "voltage": "Voltage, where measured",
    "temperature": "Temperature, where measured",
}
"""What a column can serve as."""
