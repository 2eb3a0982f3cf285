"""A study file to edit, with what a history file offers already in place; "?" stands for what only a person knows."""

from typing import Final

from lifetime.constants import SECONDS_PER_HOUR
from lifetime.packs.locate import shipped_ids

_TEXT: Final = """\
# A study to edit: every "?" is something that only you know, and packwear refuses the study until it is filled in.
# The history below is what the names, units and first rows of the file suggest; check it, change it.
title = "?"

[service]
years = 10                      # horizon of the cost
ambient_C = 20                  # or 12 monthly means, or climate = one of: {climates}
{days}

[battery]
cell = "?"                      # one of: {batteries}; or a file of your own
series = "?"
parallel = "?"
start_soc = 0.90
[battery.price]
purchase_per_kWh = "?"
{bank}
[cost]
currency = "EUR"
discount_rate = 0.05

[[strategy]]
name = "{name}"
{strategy}
"""

_DRIVES: Final = """\
working_days_per_year = 250     # the other days are rest

[service.day]
drive_repeats = 1               # how often the file is driven in one day
charge_c_rate = 0.5
charge_to_soc = 0.90
"""

_LOG: Final = """\
histories_cover = "everything"  # the file is too long for one day's drive: charging and rest are taken to be in it
"""

_LONGEST_DRIVE_S: Final = 20.0 * SECONDS_PER_HOUR
"""A day has to hold the drive and, at C/2, its charge."""

_BANK: Final = """
[ultracapacitor]
cell = "?"                      # one of: {ultracapacitors}; or a file of your own
series = "?"
parallel = "?"
start_voltage_V = "?"
minimum_voltage_V = "?"
rest_voltage_V = "?"
[ultracapacitor.price]
purchase_per_farad_cell = "?"
"""


_VEHICLE: Final = """
[vehicle]                       # turns the speed into a power
mass_kg = "?"
rolling_resistance = "?"
drag_area_m2 = "?"
"""


def skeleton(history: str, *, is_demand: bool, by_speed: bool = False, length_s: float = 0.0) -> str:
    """The text of a study file around one history.

    Args:
        history: The history as an inline table of TOML, for example ``{ file = "log.csv", time = "t_s", ... }``.
        is_demand: True for a power to be shared by a rule, false for a battery's own history.
        by_speed: True for a demand that is a speed, from which a vehicle makes a power.
        length_s: Length of the history [s]; one too long for a day's drive is taken as a log of everything.
    """
    batteries, banks, climates = (shipped_ids(one) for one in ("batteries", "ultracapacitors", "climates"))
    if is_demand:
        name = "Battery alone"
        strategy = f'demand = {history}\nsplit = {{ rule = "battery_only" }}'
    else:
        name = "As recorded"
        strategy = f"battery = {history}"
    vehicle = _VEHICLE if by_speed else ""
    bank = _BANK.format(ultracapacitors=", ".join(banks)) if is_demand else ""
    return _TEXT.format(
        climates=", ".join(climates),
        batteries=", ".join(batteries),
        bank=bank + vehicle,
        days=_LOG if length_s > _LONGEST_DRIVE_S else _DRIVES,
        name=name,
        strategy=strategy,
    )
