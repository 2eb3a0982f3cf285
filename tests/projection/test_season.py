"""The resistance of a month: one for a day, at the temperature of its heat, against a walk through the day."""

import numpy as np
import pytest

from lifetime.history.model import History
from lifetime.packs.resistance import ResistanceShape
from lifetime.projection.season import SeasonalResistance
from lifetime.stress.charging import Charging
from lifetime.stress.day import build_day
from lifetime.stress.drive import DriveTracer, trace_drive
from lifetime.stress.intervals import intervals
from lifetime.stress.source import Source, Thermal

PACK = Source(
    kind="battery",
    capacity_As=200.0 * 3600.0,
    resistance_ohm=0.1,
    start_soc=0.9,
    rest_soc=None,
    open_circuit_V=lambda soc: 350.0 + 0.0 * soc,
    minimum_voltage_V=1.0,
    maximum_voltage_V=1e3,
    minimum_soc=0.0,
    maximum_soc=1.0,
    thermal=Thermal(0.01, 200_000.0),
    hot_spot_K=3.0,
    parallel=1,
    series=1,
    shape=ResistanceShape(activation_J_per_mol=20e3),
)


def walked_heat_J(current_A, ambient_K):
    """Heat of the second of two equal days, a second at a time, the resistance that of each second's temperature."""
    kelvin = 20e3 / 8.314462618
    temperature, heat = ambient_K, 0.0
    for _ in range(2):
        heat = 0.0
        for current in [*current_A, *np.zeros(86_400 - len(current_A))]:
            watts = 0.1 * current**2 * np.exp(kelvin * (1.0 / temperature - 1.0 / 298.15))
            temperature += (watts - (temperature - ambient_K) / 0.01) / 200_000.0
            heat += watts
    return heat


@pytest.mark.parametrize("celsius", [-20.0, 25.0])
def test_heat_of_a_day_against_a_walk_through_it(celsius):
    # An hour at 80 A, half an hour of rest, an hour at 40 A: up to 10 K of rise in the cold.
    current = np.concatenate([np.full(3600, 80.0), np.zeros(1800), np.full(3600, 40.0)])
    history = History.from_arrays(
        time_s=np.arange(current.size + 1.0), current_A=np.append(current, 0.0), interpolation="zero_order_hold"
    )
    drive = trace_drive(DriveTracer(PACK, power_driven=False), intervals(history))
    day = build_day(drive, PACK, Charging(None, 0.9))
    (factor,) = SeasonalResistance(PACK.shape, day, np.array([celsius + 273.15])).factors(1.0)
    # A whole per cent of heat would be 0.1 K on average, and less than 0.1 % of a life of which a tenth is driven.
    assert 0.1 * drive.heat_A2s * factor == pytest.approx(walked_heat_J(current, celsius + 273.15), rel=8e-3)


def test_a_resistance_without_activation_knows_no_month():
    day = build_day(
        trace_drive(
            DriveTracer(PACK, power_driven=False),
            intervals(History.from_arrays(time_s=np.arange(11.0), current_A=np.full(11, 50.0))),
        ),
        PACK,
        Charging(None, 0.9),
    )
    months = SeasonalResistance(ResistanceShape(), day, np.linspace(253.15, 303.15, 12))
    assert months.factors(2.0).tolist() == [1.0] * 12
