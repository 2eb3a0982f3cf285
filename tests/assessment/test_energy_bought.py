"""Energy bought against what drive, losses and refilling take, by hand."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from lifetime.assessment.energy_bought import energy_bought
from lifetime.assessment.setups import Drivetrain
from lifetime.assessment.traces import DayTraces, DrivetrainTraces, history_traces
from lifetime.assessment.worn_bank import DayBesideWornBank
from lifetime.projection.recurring import Recurring
from lifetime.stress.coolant import Coolant
from lifetime.stress.day import Charging

JOULES = 3.6e6
CHARGED = Charging(50.0, 0.8)
"""Back to where the day begins, at 50 A."""


def losing(kWh_per_year):
    return SimpleNamespace(energy_losses_kWh_per_year=kWh_per_year)


@pytest.fixture
def bought(battery, ultracapacitor, history, yearly):
    """Energy of a battery that gives 100 A for 360 s, and of a bank that gives a constant current meanwhile."""

    def _bought(charging=CHARGED, charger=0.9, losses_kWh=0.0, bank_A=None, **standing):
        setup = battery(charging=charging)
        drivetrain = Drivetrain(setup, None if bank_A is None else ultracapacitor(**standing))
        traces = DrivetrainTraces(
            history_traces(setup, history([100.0] * 360), 1),
            None
            if bank_A is None
            else history_traces(drivetrain.ultracapacitor, history([bank_A] * 100 + [0.0] * 260), 1),
        )
        bank = None if bank_A is None else losing(7.0)
        return energy_bought(drivetrain, traces, yearly(), charger, losing(losses_kWh), bank)

    return _bought


def test_what_drive_and_losses_take_is_bought_at_the_meter(bought):
    # 36,000 As at 375 V on average less 0.1 ohm (100 A)^2 360 s at the terminals; 20 kWh a year are lost in all.
    delivered = (375.0 * 36_000.0 - 0.1 * 100.0**2 * 360.0) / JOULES
    energy = bought(losses_kWh=20.0)
    assert energy.metered_kWh_per_year == pytest.approx((365.0 * delivered + 20.0) / 0.9)
    assert energy.total_kWh_per_year == energy.metered_kWh_per_year


def test_charge_left_open_is_bought_as_a_correction(bought):
    # Driven from 80 to 70 %, charged to 75 % at 372.5 V on average with 0.1 ohm * 50 A lost; 18,000 As from 75 to 80 %,
    # 377.5 V on average, stay open.
    energy = bought(charging=Charging(50.0, 0.75))
    left_open = 377.5 * 18_000.0 / JOULES
    charged = 372.5 * 18_000.0
    heat = 0.1 * 50.0 * 18_000.0
    efficiency = charged / (charged + heat)
    assert energy.battery_correction_kWh_per_year == pytest.approx(365.0 * left_open / (0.9 * efficiency), rel=1e-6)


def test_the_bank_is_refilled_by_way_of_the_battery(bought):
    # 10 A for 100 s from 300 V leave 290 V: 50 F (300^2 - 290^2) V^2 = 295 kJ short, through 0.95 and the charger. The
    # battery's own charging loses 0.1 ohm * 50 A of 375 V.
    energy = bought(bank_A=10.0, refill_efficiency=0.95)
    into_battery = 375.0 / (375.0 + 5.0)
    assert energy.ultracapacitor_kWh_per_year == pytest.approx(
        365.0 * 295e3 / JOULES / (0.95 * into_battery * 0.9), rel=1e-6
    )


@pytest.mark.parametrize(("returns", "taken"), [(True, 1 / 0.95 - 0.95), (False, 1 / 0.95)])
def test_the_way_up_from_rest_is_paid_each_day(bought, returns, taken):
    # From 200 V at rest to 300 V: 50 F * 50,000 V^2 = 2.5 MJ; on the way down it goes back or is lost.
    energy = bought(bank_A=0.0, rest_voltage_V=200.0, refill_efficiency=0.95, returns_energy=returns)
    at_battery = 365.0 * 2.5e6 * taken / JOULES
    assert energy.ultracapacitor_kWh_per_year == pytest.approx(at_battery * (380.0 / 375.0) / 0.9, rel=1e-6)


def test_leakage_takes_power_day_and_night(bought):
    # 3.03 W: 0.0728 kWh a day.
    energy = bought(bank_A=0.0, standby_W=3.03, charger=1.0)
    assert energy.ultracapacitor_kWh_per_year == pytest.approx(365.0 * 0.07272 * 380.0 / 375.0, rel=1e-6)


def test_a_pack_that_is_not_charged_from_outside_buys_its_losses(bought):
    assert bought(charging=Charging(None, 0.8), losses_kWh=20.0, bank_A=10.0).total_kWh_per_year == 27.0


@pytest.mark.parametrize(("charging", "charger"), [(CHARGED, 0.9), (Charging(None, 0.8), 1.0)])
def test_what_holds_the_coolant_is_bought_besides(bought, battery, history, yearly, charging, charger):
    # 25 °C all year, setpoint 35 °C over 0.05 K/W: 200 W, less 50 W of its own heat (438 kWh a year): 1314 kWh a year.
    setup = battery(charging=charging)
    warm = replace(setup, source=replace(setup.source, coolant=Coolant(308.15, 0.05, 1.0, None)))
    traces = DrivetrainTraces(history_traces(warm, history([100.0] * 360), 1))
    energy = energy_bought(Drivetrain(warm), traces, yearly(), 0.9, losing(438.0), None)
    assert energy.coolant_kWh_per_year == pytest.approx(1314.0 / charger)
    plain = bought(charging=charging, losses_kWh=438.0)
    assert energy.total_kWh_per_year - plain.total_kWh_per_year == pytest.approx(1314.0 / charger)
    assert plain.coolant_kWh_per_year == 0.0


def test_a_worn_bank_moves_what_is_bought_by_its_mean_over_the_service(battery, history, yearly):
    # A quarter of the ten years has the worn bank's day: 120 A in place of 100 A for 360 s, at 375 and 374 V on average
    # (80 to 70 and 68 %) less 0.1 ohm; 2 kWh of friction in place of 1, 3 kWh lost in the converters in place of 1.
    setup = battery(charging=CHARGED)
    new, worn = (history_traces(setup, history([amperes] * 360), 1).new for amperes in (100.0, 120.0))
    served = [SimpleNamespace(friction_kWh=kWh, unserved_kWh=0.0) for kWh in (1.0, 2.0)]
    quarter = Recurring(np.array([0.0, 10.0]), np.array([0.25, 0.25]))
    traces = DayTraces(new, feasible=served[0], beside=(DayBesideWornBank(worn, quarter, served[1], 3.0 * JOULES),))
    passes = (SimpleNamespace(lost_J=1.0 * JOULES),)
    energy = energy_bought(Drivetrain(setup), DrivetrainTraces(traces, None, passes), yearly(), 0.9, losing(0.0), None)
    delivered = [
        (mean_V * amperes - 0.1 * amperes**2) * 360.0 / JOULES for mean_V, amperes in ((375.0, 100.0), (374.0, 120.0))
    ]
    per_day = 0.75 * delivered[0] + 0.25 * delivered[1]
    assert energy.metered_kWh_per_year == pytest.approx(365.0 * per_day / 0.9)
    assert energy.friction_kWh_per_year == pytest.approx(365.0 * 1.25 / 0.9)
    assert energy.converter_kWh_per_year == pytest.approx(365.0 * 1.5 / 0.9)
