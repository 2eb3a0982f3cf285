"""A coolant at a setpoint, by hand: heat through one resistance to the air, and the pack's own heat."""

import numpy as np
import pytest

from lifetime.stress.coolant import Coolant

AIR_K = np.array([263.15, 293.15, 313.15])
"""-10, 20 and 40 °C."""


def held(heating_cop=1.0, cooling_cop=2.0):
    return Coolant(293.15, 0.1, heating_cop, cooling_cop)


def test_power_without_heat_of_its_own():
    # 30 K over 0.1 K/W are 300 W of heating; 20 K are 200 W of cooling at a COP of 2.
    assert held().power_W(AIR_K, 0.0).tolist() == pytest.approx([300.0, 0.0, 100.0])


def test_its_own_heat_saves_heating_and_costs_cooling():
    # 50 W of its own: 250 W are missing, 50 W too many, 250 W too many.
    assert held().power_W(AIR_K, 50.0).tolist() == pytest.approx([250.0, 25.0, 125.0])
    # More heat of its own than the air takes: no heating at all.
    assert held(cooling_cop=None).power_W(AIR_K, 400.0).tolist() == [0.0, 0.0, 0.0]


def test_a_heater_alone_and_a_cooler_alone():
    assert held(cooling_cop=None).around_K(AIR_K).tolist() == [293.15, 293.15, 313.15]
    assert held(heating_cop=None).around_K(AIR_K).tolist() == [263.15, 293.15, 293.15]
    assert held().around_K(AIR_K).tolist() == [293.15] * 3
    assert held(cooling_cop=None).power_W(AIR_K, 0.0).tolist() == pytest.approx([300.0, 0.0, 0.0])
    assert held(heating_cop=None).power_W(AIR_K, 0.0).tolist() == pytest.approx([0.0, 0.0, 100.0])
