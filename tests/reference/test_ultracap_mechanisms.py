"""ESR on its own clock, current on loaded time, and the weakest cell of a bank, worked out outside this program.

Form of the current term: Kreczanik, Venet, Hijazi, Clerc, IEEE Trans. Ind. Electron. 61 (2014) 4895,
doi 10.1109/TIE.2013.2293695. ESR rising more than capacitance falls: Omar, Gualous et al., J. Appl. Electrochem. 44
(2014) 509, doi 10.1007/s10800-013-0640-4. Everything else follows in closed form from the sentence next to it.
"""

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import norm

from lifetime.ageing.cell_spread import CellSpread, expected_worst
from lifetime.ageing.coefficients import Coefficient
from lifetime.ageing.contract import Stress
from lifetime.ageing.registry import LAWS, build_law, law_faults
from lifetime.ageing.validity import Validity
from lifetime.packs.load import load_cell
from lifetime.packs.locate import profiles_folder, shipped_ids
from lifetime.packs.read import read_profile

RULE = "edlc_3000F_10K_0p2V"


def law(profile=RULE, **change):
    return replace(load_cell(profile, "ultracapacitor", Path()).law, **change)


OVER_CYCLES = ("count", "depth", "mean_soc", "c_rate", "charge_c_rate", "discharge_c_rate", "cycle_temperature_K")


def standing(hours, V, *, T_C=65.0, rms_A=0.0, loaded=1.0):
    hours, V = np.broadcast_arrays(np.atleast_1d(hours).astype(float), np.atleast_1d(V).astype(float))
    none = np.zeros(0)
    return Stress(
        duration_s=hours * 3600,
        soc=V / 2.7,
        temperature_K=np.full(V.shape, T_C + 273.15),
        voltage_V=V,
        **dict.fromkeys((*OVER_CYCLES, "rms_voltage_V", "throughput_fec"), none),
        rms_current_A=np.asarray(rms_A, dtype=float),
        loaded_fraction=np.asarray(loaded, dtype=float),
    )


def life_h(a_law, V=2.5):
    return 1.0 / a_law.clocks(standing(1.0, V)).sum()


@pytest.mark.parametrize(("ratio", "share"), [(1.0, 1.0), (1.5, 0.667), (2.0, 0.5)])
@pytest.mark.parametrize("shape", ["linear", "square_root", "burn_in_linear"])
def test_esr_ends_life_by_its_own_clock(ratio, share, shape):
    # dS_R = rho dS_C: ESR is doubled at S_C = 1/rho, before the capacitance has lost 20 %.
    a_law = law(shape=shape, esr_rate_ratio=ratio)
    end = a_law.fade(np.array([1.0 / ratio, 0.0]))
    assert end.resistance_ratio == pytest.approx(2.0, abs=1e-12)
    assert 1.0 / ratio == pytest.approx(share, abs=5e-4)
    assert (end.capacity_fraction > 0.8 + 1e-9) == (ratio > 1.0)
    assert a_law.fade(np.array([1.0, 0.0])).capacity_fraction == pytest.approx(0.8, abs=1e-12)


@pytest.mark.parametrize("name", shipped_ids("ultracapacitors"))
def test_a_set_without_the_coefficients_of_esr_is_the_shipped_one_to_the_last_bit(name):
    section = read_profile(profiles_folder() / "ultracapacitors" / f"{name}.toml", name)[0].law
    numbers, stress = section.numbers(), standing([8.0, 16.0], [2.5, 2.0], rms_A=60.0)
    numbers.pop("esr_rate_ratio")
    assert law_faults(section.name, numbers, section.words()) == {}
    plain, shipped = build_law(section.name, numbers, section.words(), Validity()), law(name)
    clocks = shipped.clocks(stress) * 1e4
    assert (plain.clocks(stress) * 1e4 == clocks).all()
    assert len(shipped.mechanisms) == 2
    # One clock for both, which is what makes ESR = 1 + 5 x loss.
    health = shipped.fade(clocks)
    assert plain.fade(clocks) == health
    assert health.resistance_ratio == pytest.approx(1.0 + 5.0 * (1.0 - health.capacity_fraction), rel=1e-12)


def test_a_current_term_of_esr_leaves_the_capacitance_alone():
    # ln 2 / d doubles the rate: ESR takes S_C and as much again while loaded, half the time.
    stress = standing([600.0, 600.0], 2.7, rms_A=100.0, loaded=[1.0, 0.0])
    own = law(esr_rms_current_coefficient_per_A=np.log(2.0) / 100.0, shape="linear")
    clocks = own.clocks(stress)
    assert clocks.tolist() == pytest.approx([0.8, 0.0, 0.4])
    health = own.fade(clocks)
    assert health.capacity_fraction == pytest.approx(1.0 - 0.2 * 0.8)
    assert health.resistance_ratio == pytest.approx(1.0 + 1.2)
    assert own.capacity_loss_by_mechanism(clocks).tolist() == pytest.approx([0.16, 0.0, 0.0])
    assert [one.name for one in own.mechanisms] == ["float", "cycling", "esr_current"]
    assert "c_rate" in own.sees


@pytest.mark.parametrize(
    ("loaded", "rms_A", "factor"),
    [
        ([1.0, 0.0], 71.0, 1.1896),
        ([1.0, 1.0], 71.0, 2.517),  # on the whole day: wrong, and what the loaded share is there for
        ([1.0, 1.0], 71.0 * np.sqrt(3 / 24), 1.386),  # whole-day rms current: wrong too
    ],
)
def test_the_current_acts_on_loaded_time(loaded, rms_A, factor):
    # (3 e^(0.013 x 71) + 21)/24 at equal base rate; the other two are what one gets by ignoring which time is loaded.
    with_current = law(rms_current_coefficient_per_A=0.013)
    day = standing([3.0, 21.0], 2.5, rms_A=rms_A, loaded=loaded)
    grown = with_current.clocks(day).sum() / law().clocks(day).sum()
    assert grown == pytest.approx(factor, abs=6e-4 if factor > 2 else 6e-5 if factor < 1.2 else 5e-4)


def test_current_and_rest_side_by_side_in_the_months():
    # Twelve months broadcast against the current and the bins as one month alone.
    a_law = law(rms_current_coefficient_per_A=0.01)
    alone = a_law.clocks(standing([3.0, 21.0], [2.5, 2.0], rms_A=80.0, loaded=[1.0, 0.0]))
    one = standing([3.0, 21.0], [2.5, 2.0], rms_A=80.0, loaded=[1.0, 0.0])
    months = replace(one, temperature_K=np.broadcast_to(one.temperature_K, (12, 2)))
    np.testing.assert_allclose(a_law.clocks(months), np.broadcast_to(alone, (12, 2)), rtol=1e-14)
    by_month = replace(months, rms_current_A=np.linspace(0.0, 80.0, 12))
    np.testing.assert_allclose(a_law.clocks(by_month)[-1], alone, rtol=1e-14)
    assert (np.diff(a_law.clocks(by_month)[:, 0]) > 0.0).all()


@pytest.mark.parametrize(("share", "per_A"), [(0.050, 0.0197), (0.183, 0.0112), (0.23, 0.0097), (0.84, 0.0012)])
def test_the_shipped_range_holds_what_the_cycle_rating_allows(share, per_A):
    # 1e6 cycles at 151.6 A rms end a 2000 F cell of which standing took this share: delta = ln(1/share)/151.6.
    assert np.log(1.0 / share) / 151.6 == pytest.approx(per_A, abs=1e-4)
    for name in shipped_ids("ultracapacitors"):
        section = read_profile(profiles_folder() / "ultracapacitors" / f"{name}.toml", name)[0]
        coefficient = section.law.coefficients["rms_current_coefficient_per_A"]
        per_farad = per_A * 2000.0 / section.cell.capacitance_F.number
        assert coefficient.value == 0.0
        assert coefficient.range[1] >= per_farad - 1e-4


@pytest.mark.parametrize(("cells", "z"), [(6, 1.267), (18, 1.820), (48, 2.233), (180, 2.711), (216, 2.771)])
def test_mean_of_the_largest_deviate(cells, z):
    assert expected_worst(cells) == pytest.approx(z, abs=5e-4)
    # An outside reckoning: the density n Φ^(n-1) φ summed on a fine grid.
    x = np.linspace(-9.0, 9.0, 200_001)
    density = cells * norm.cdf(x) ** (cells - 1) * norm.pdf(x)
    assert expected_worst(cells) == pytest.approx(np.trapezoid(x * density, x), abs=1e-7)


def test_one_cell_has_no_weaker_one():
    assert expected_worst(1) == pytest.approx(0.0, abs=1e-10)
    assert expected_worst(2) == pytest.approx(1.0 / np.sqrt(np.pi), rel=1e-9)  # closed form


@pytest.mark.parametrize(
    ("deviation", "cells", "balancing", "V", "by_0p2V", "by_0p1V"),
    [
        (0.02, 48, "bottom", 2.5, 0.679, 0.461),
        (0.02, 216, "bottom", 2.5, 0.619, 0.383),
        (0.01, 216, "bottom", 2.5, 0.787, None),
        (0.02, 216, "half", 2.7, 0.772, 0.595),
        (0.02, 216, "top", 2.5, 1.0, 1.0),
    ],
)
def test_life_of_the_weakest_cell(deviation, cells, balancing, V, by_0p2V, by_0p1V):
    spread = CellSpread(deviation, cells, balancing, 1.35)
    for profile, factor in ((RULE, by_0p2V), ("edlc_3000F_10K_0p1V", by_0p1V)):
        if factor is not None:
            assert life_h(law(profile, spread=spread), V) / life_h(law(profile), V) == pytest.approx(factor, abs=6e-4)


def test_balanced_at_half_voltage_the_worst_cell_is_75_mV_higher_when_full():
    spread = CellSpread(0.02, 216, "half", 1.35)
    worst = spread.worst_V(np.array([2.7, 1.35, 0.9])) - np.array([2.7, 1.35, 0.9])
    assert worst[0] == pytest.approx(0.0748, abs=5e-5)
    assert worst[1] == 0.0
    assert worst[2] == pytest.approx(0.0748 / 3, abs=5e-5)  # below it the largest cell is the highest


def test_the_weakest_cell_is_judged_against_the_rated_voltage():
    # At 2.6 V all cells alike are within 2.0 to 2.7 V; 2.6 x 1.0554 = 2.744 V is not.
    stress = standing(1.0, 2.6)
    codes = {one.code for one in law(spread=CellSpread(0.02, 216, "bottom", 1.35)).range_notices(stress)}
    assert codes == {"voltage_above_range"}
    assert law().range_notices(stress) == []


def test_an_optional_coefficient_still_has_its_unit():
    fault = law_faults("ultracapacitor_doubling", {"esr_rate_ratio": Coefficient(1.5, "V")}, {})
    assert fault["coefficients.esr_rate_ratio"] == 'must be in the unit "1", got "V"'
    assert "coefficients.esr_rms_current_coefficient_per_A" not in fault
    assert {name for name, one in LAWS.items() if hasattr(one, "spread")} == {
        "ultracapacitor_doubling",
        "ultracapacitor_arrhenius",
    }
