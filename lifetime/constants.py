"""Physical constants and calendar conventions, each with its unit in its name."""

from typing import Final

BOLTZMANN_EV_PER_K: Final = 8.617333262e-5
"""Boltzmann constant [eV/K]; CODATA 2018."""

GAS_CONSTANT_J_PER_MOL_K: Final = 8.314462618
"""Molar gas constant [J/(mol K)]; exact in the SI of 2019."""

ZERO_CELSIUS_K: Final = 273.15
"""0 °C in kelvin [K]; definition of the Celsius scale."""

SECONDS_PER_HOUR: Final = 3600.0
SECONDS_PER_DAY: Final = 86400.0
JOULES_PER_KWH: Final = 3.6e6
METRES_PER_KM: Final = 1000.0

DAYS_PER_YEAR: Final = 365.0
"""A year of service [d]. The published calendar laws and their check values count 365 days to a year."""

MONTHS_PER_YEAR: Final = 12
DAYS_PER_MONTH: Final = DAYS_PER_YEAR / MONTHS_PER_YEAR
"""Twelve equal months [d], so that no month is favoured."""

DAYS_OF_MONTHS: Final = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
HOURS_PER_DAY: Final = 24
HOURS_PER_YEAR: Final = 8760
"""Hours of a weather file, which has no 29 February."""

LIFE_SEARCH_YEARS: Final = 50.0
"""How far life is searched [years]; beyond it ``beyond_search_limit`` is the answer, never infinity."""
