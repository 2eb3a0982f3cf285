"""Voltages given by cell reach sources and split as those of pack and bank, by hand: volts of one cell times series."""

from pathlib import Path
from types import SimpleNamespace

import pytest

from lifetime.assessment.power_split import power_split
from lifetime.assessment.resolution import battery_setup, ultracapacitor_setup
from lifetime.assessment.setups import Drivetrain
from lifetime.packs.load import load_cell
from lifetime.split.rules import LowPass
from lifetime.study.duty import Service
from lifetime.study.evaluation import Counting, EndOfLife
from lifetime.study.sections import Battery, Ultracapacitor

SERVICE = Service(years=10.0, working_days_per_year=250.0, ambient_C=20.0)
PRICE = {"purchase": 1.0}


def battery(**more):
    section = Battery(cell="lfp_naumann_2020", series=180, parallel=40, start_soc=0.9, price=PRICE, **more)
    return battery_setup(section, load_cell("lfp_naumann_2020", "battery", Path()), EndOfLife(), SERVICE, Counting())


def bank(series, **more):
    volts = {"start_voltage_V": 2.25, "minimum_voltage_V": 1.25, "maximum_voltage_V": 2.5, "rest_voltage_V": 1.5} | more
    cell = "edlc_3000F_10K_0p2V"
    section = Ultracapacitor(cell=cell, series=series, parallel=1, price=PRICE, **volts)
    return ultracapacitor_setup(section, load_cell(cell, "ultracapacitor", Path()), EndOfLife(), SERVICE)


def test_of_the_battery():
    setup = battery(voltages_of="cell", minimum_voltage_V=2.5, maximum_voltage_V=3.5)
    assert (setup.source.minimum_voltage_V, setup.source.maximum_voltage_V) == (450.0, 630.0)
    assert (setup.load.minimum_voltage_V, setup.load.maximum_voltage_V) == (450.0, 630.0)
    # The cell's own limits of 2.0 and 3.6 V where none is given.
    own = battery(voltages_of="cell")
    assert (own.source.minimum_voltage_V, own.source.maximum_voltage_V) == pytest.approx((360.0, 648.0))


@pytest.mark.parametrize("series", [216, 180])
def test_of_the_bank_at_any_number_of_cells(series):
    setup = bank(series, voltages_of="cell")
    assert (setup.start_voltage_V, setup.rest_voltage_V) == (2.25 * series, 1.5 * series)
    assert (setup.bank.minimum_voltage_V, setup.bank.maximum_voltage_V) == (1.25 * series, 2.5 * series)
    assert setup.source.start_soc == pytest.approx(2.25 / 2.7)


@pytest.mark.parametrize(("voltages_of", "setpoint_V"), [("cell", 486.0), ("bank", 2.25)])
def test_of_the_split(voltages_of, setpoint_V):
    """216 cells at 2.25 V; of a bank the number stays what it is."""
    drivetrain = Drivetrain(battery(), bank(216, voltages_of=voltages_of))
    setup = SimpleNamespace(
        drivetrain=drivetrain, operation=SimpleNamespace(drive_repeats=1), loaded=SimpleNamespace(functions={})
    )
    regulated = {"ultracapacitor_setpoint_V": 2.25, "ultracapacitor_setpoint_time_constant_s": 60.0}
    split = power_split(setup, LowPass(time_constant_s=5.0, **regulated), demand=None)
    assert split.rule.ultracapacitor_setpoint_V == setpoint_V
