"""Rules behind a datasheet of the 2.7 V screw-terminal family, and lumped electrical relations of cell and pack.

The printed values are those of the datasheet table (650 to 3000 F, 2.7 V); the rules are closed forms that reproduce
them: continuous current sqrt(dT/(R_th R)), one-second peak current (C V/2)/(C R + 1 s), usable power 0.12 V^2/R,
matched power V^2/(4 R m), short-circuit current V/R, energy C V^2/2.
"""

from decimal import Decimal
from math import exp, sqrt
from pathlib import Path

import pytest

from lifetime.packs.load import load_cell
from lifetime.packs.pack import Pack


def agrees(actual, printed):
    number = Decimal(printed)
    half = 0.5 * 10.0 ** number.as_tuple().exponent
    assert abs(float(actual) - float(number)) <= half * (1 + 1e-6), f"{float(actual)!r} against printed {printed}"


@pytest.fixture(scope="module")
def cell():
    return load_cell("edlc_3000F_10K_0p2V", "ultracapacitor", Path())


@pytest.fixture(scope="module")
def other():
    return load_cell("edlc_2000F_b", "ultracapacitor", Path())


def continuous_A(cell, rise_K):
    return sqrt(rise_K / (cell.thermal_resistance_K_per_W * cell.resistance_ohm))


def peak_A(C, R, V=2.7):
    return C * V / 2 / (C * R + 1.0)


def test_3000_F_sheet(cell):
    R, V, C, m = cell.resistance_ohm, cell.maximum_voltage_V, cell.capacitance_F, cell.mass_kg
    agrees(continuous_A(cell, 15), "127.1")
    agrees(continuous_A(cell, 40), "207.6")
    assert continuous_A(cell, 15) == pytest.approx(cell.continuous_current_A, rel=0.03)  # the sheet rounds up to 130
    agrees(peak_A(C, R), "2165.8")
    assert peak_A(C, R) == pytest.approx(cell.maximum_current_A, rel=0.02)  # the sheet rounds up to 2200
    agrees(0.12 * V * V / R, "3016.6")
    agrees(0.12 * V * V / R / m, "5915")
    agrees(V * V / (4 * R * m), "12323")
    agrees(V / R, "9310")
    agrees(0.5 * C * V * V / 3600 / m, "5.956")


@pytest.mark.parametrize(
    ("C", "R_mohm", "peak"),
    [(650, 0.80, "577.3"), (1200, 0.58, "955.2"), (1500, 0.47, "1187.7"), (2000, 0.35, "1588.2")],
)
def test_peak_current_of_the_smaller_cells(C, R_mohm, peak):
    agrees(peak_A(C, R_mohm * 1e-3), peak)


def test_650_F_continuous_current():
    for rise, current in ((15, "53.7"), (40, "87.7")):
        agrees(sqrt(rise / (6.5 * 0.80e-3)), current)


def test_2000_F_sheet_of_another_maker(other):
    agrees(continuous_A(other, 15), "125.2")
    agrees(continuous_A(other, 40), "204.4")
    assert other.continuous_current_A == 125.0
    agrees(peak_A(other.capacitance_F, other.resistance_ohm), "1627")  # by hand; the sheet prints 1620
    assert Pack(other, 1, 1).pack_energy_Wh == pytest.approx(2.02, abs=0.006)  # the sheet cuts 2.025


def test_one_cell(cell):
    one = Pack(cell, 1, 1)
    agrees(0.5 * cell.capacitance_F * cell.maximum_voltage_V**2, "10935")
    agrees(one.pack_energy_Wh, "3.0375")
    agrees(one.pack_energy_Wh, "3.04")  # as the sheet prints it
    agrees(0.75 * one.pack_energy_Wh, "2.278")
    agrees(cell.rated_capacity_Ah, "2.25")  # 3000 F x 2.7 V / 3600 s, by hand
    agrees(cell.open_circuit(0.5), "1.35")  # linear in charge


def test_48_cells_in_series(cell):
    bank = Pack(cell, 48, 1)
    agrees(bank.pack_capacitance_F, "62.5")
    agrees(bank.pack_maximum_voltage_V, "129.6")
    agrees(1e3 * bank.pack_resistance_ohm, "13.92")
    agrees(bank.pack_energy_Wh, "145.8")
    agrees(0.75 * bank.pack_energy_Wh, "109.35")
    agrees(0.80 * 0.75 * bank.pack_energy_Wh, "87.48")


def test_parallel_strings_share_the_current(cell):
    # N in series, M in parallel: C M/N, R N/M, V N
    bank = Pack(cell, 48, 2)
    agrees(bank.pack_capacitance_F, "125")
    agrees(1e3 * bank.pack_resistance_ohm, "6.96")
    agrees(bank.pack_energy_Wh, "291.6")
    assert bank.pack_maximum_current_A == 2 * cell.maximum_current_A


def test_usable_energy_windows():
    for floor, percent in ((0.5, "75"), (0.6, "64"), (0.7, "51")):
        agrees(100 * (1 - floor**2), percent)


def test_lumped_heating(cell):
    rise = 130.0**2 * cell.resistance_ohm * cell.thermal_resistance_K_per_W
    tau = cell.thermal_resistance_K_per_W * cell.heat_capacity_J_per_K
    agrees(rise, "15.683")
    agrees(tau, "1920")
    agrees(rise * (1 - exp(-600 / tau)), "4.209")
    # ESR doubled: 15.7 K more, life rate x 2.97 by the rule of 10 K
    agrees(2 * rise, "31.4")
    agrees(2 ** (rise / 10), "2.97")
