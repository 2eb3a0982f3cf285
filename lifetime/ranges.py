"""Ranges of a study's numbers, named by what they measure.

They are far wider than anything built, from one small cell to a ship, and close enough that no arithmetic on them
overflows or asks for all the memory there is. Common practice, no source.
"""

from typing import Annotated

from pydantic import Field

Fraction = Annotated[float, Field(ge=0.0, le=1.0)]
COLDEST_AMBIENT_C, HOTTEST_AMBIENT_C = -60.0, 60.0
"""Monthly means on Earth stay well inside; kelvin or Fahrenheit by mistake do not."""
Celsius = Annotated[float, Field(ge=COLDEST_AMBIENT_C, le=HOTTEST_AMBIENT_C)]
Volts = Annotated[float, Field(ge=1e-3, le=1e6)]
VoltsOrZero = Annotated[float, Field(ge=0.0, le=1e6)]
Amperes = Annotated[float, Field(ge=1e-6, le=1e7)]
Ohms = Annotated[float, Field(ge=1e-9, le=1e6)]
OhmsOrZero = Annotated[float, Field(ge=0.0, le=1e6)]
Watts = Annotated[float, Field(ge=0.0, le=1e12)]
WattsPerSecond = Annotated[float, Field(ge=1e-6, le=1e15)]
Seconds = Annotated[float, Field(ge=1e-6, le=1e9)]
AmpereHours = Annotated[float, Field(ge=1e-4, le=1e5)]
HourOfDay = Annotated[float, Field(ge=0.0, lt=24.0)]
CRate = Annotated[float, Field(ge=1e-4, le=1e3)]
CoefficientOfPerformance = Annotated[float, Field(ge=0.1, le=20.0)]
KelvinPerWatt = Annotated[float, Field(ge=1e-9, le=1e4)]
SHORTEST_TIME_CONSTANT_S = 1.0
"""Of a pack's warming [s]: one small cell in a liquid takes longer, and a trace resolves it."""
JoulesPerKelvin = Annotated[float, Field(ge=1e-3, le=1e12)]
Kilograms = Annotated[float, Field(ge=1e-3, le=1e9)]
SquareMetres = Annotated[float, Field(ge=0.0, le=1e4)]
Kilometres = Annotated[float, Field(ge=0.0, le=1e5)]
Money = Annotated[float, Field(ge=0.0, le=1e15)]
Efficiency = Annotated[float, Field(ge=0.01, le=1.0)]
"""Less than a hundredth is a fault of units, not a converter."""
