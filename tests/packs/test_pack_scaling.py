"""Series and parallel scaling: closed forms."""

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lifetime.errors import ProfileError
from lifetime.packs.load import load_cell
from lifetime.packs.pack import Pack

LFP = load_cell("lfp_naumann_2020", "battery", Path())
EDLC = load_cell("edlc_3000F_10K_0p2V", "ultracapacitor", Path())


def test_battery_pack_by_hand():
    # 180 in series, 40 parallel, 3 Ah and 3.2 V a cell: 120 Ah, 576 V, 69.12 kWh; 30 mOhm x 180 / 40 = 135 mOhm
    pack = Pack(LFP, 180, 40)
    assert pack.cells == 7200
    assert pack.pack_capacity_Ah == pytest.approx(120.0)
    assert pack.pack_nominal_voltage_V == pytest.approx(576.0)
    assert pack.pack_energy_Wh == pytest.approx(69120.0)
    assert pack.pack_resistance_ohm == pytest.approx(0.135)
    assert pack.pack_minimum_voltage_V == pytest.approx(360.0)
    assert pack.pack_maximum_voltage_V == pytest.approx(648.0)
    assert pack.pack_maximum_current_A == pytest.approx(800.0)
    assert pack.pack_mass_kg == pytest.approx(7200 * 0.084)
    assert pack.pack_capacitance_F is None


@given(series=st.integers(1, 500), parallel=st.integers(1, 200))
@settings(deadline=None)
def test_energy_scales_with_the_number_of_cells(series, parallel):
    for cell in (LFP, EDLC):
        pack, one = Pack(cell, series, parallel), Pack(cell, 1, 1)
        assert pack.pack_energy_Wh == pytest.approx(one.pack_energy_Wh * series * parallel)
        # the matched power V^2/(4 R) of n cells is n times that of one
        power = pack.pack_nominal_voltage_V**2 / (4 * pack.pack_resistance_ohm)
        assert power == pytest.approx(one.pack_nominal_voltage_V**2 / (4 * one.pack_resistance_ohm) * pack.cells)


def test_charge_of_a_bank_is_capacitance_times_voltage():
    bank = Pack(EDLC, 216, 2)
    assert bank.pack_capacity_Ah * 3600 == pytest.approx(bank.pack_capacitance_F * bank.pack_maximum_voltage_V)


@pytest.mark.parametrize(("series", "parallel"), [(0, 1), (1, -2), (1.5, 1), (True, 1)])
def test_counts_must_be_whole(series, parallel):
    with pytest.raises(ProfileError, match="must be a whole number of at least 1"):
        Pack(LFP, series, parallel)
