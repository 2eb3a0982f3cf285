"""The shipped parameter sets: complete, sourced, and numerically what the publications say.

The fingerprints are the coefficients of the cited equations, typed in by hand from the publications' equations, not
read out of the files. Sources stand in the files and in tests/reference.
"""

from pathlib import Path

import pytest

from lifetime.packs.load import load_cell
from lifetime.packs.locate import profiles_folder, shipped_ids
from lifetime.packs.read import read_profile

BATTERIES = (
    "lfp_naumann_2020",
    "lfp_power_wang_2011",
    "lfp_schimpe_2018",
    "lmo_xu_2018",
    "nmc_schmalstieg_2014",
)
ULTRACAPACITORS = (
    "edlc_2000F_b",
    "edlc_3000F_10K_0p1V",
    "edlc_3000F_10K_0p2V",
    "edlc_3000F_10K_x1p3",
    "edlc_3000F_three_ratings",
)
ALL = [("batteries", name) for name in BATTERIES] + [("ultracapacitors", name) for name in ULTRACAPACITORS]

M1 = [7.543e6, -23.75e6, 6976, 5.270e5, -16.32e5, 5986, 7.348e-3, 3.667, 7.600e-4, 4.081e-3]
M1 += [2.153e-4, 3.725, -1.521e-5, 2.798e-4, 1.5e-5, 0.75, 4.10]
M2_CALENDAR = [1.2571e-5, 17126, 298.15, 2.8575, 0.5, 0.60225]
DRIFT = [2.7, 0.20, 1.0, 1.0, 0.5, 1.053e6, 0.05, 0.05, 0.0, 0.0]

# hand-typed numbers of each law, in any order, and how many numbers the law has in all (lists counted by element)
FINGERPRINTS = {
    "lfp_naumann_2020": (
        [
            *(*M2_CALENDAR, 3.419e-10, 71827, -3.3903, 1.5604),
            *(0.0630, 0.0971, 4.0253, 0.6, 1.0923),
            *(-0.0018, 0.0023, 6.8477, 0.5, 0.91882, 1.0, 1.0, 1.0, 8.3145),
        ],
        24,
    ),
    "lfp_schimpe_2018": (
        [
            *(3.694e-4, 20592, 0.384, 0.123, 0.142, 1.456e-4, 32699),
            *(4.009e-4, -55546, 2.64, 2.031e-6, -2.33e5, 7.84, 0.82),
            *(298.15, 96485, 8.314, 0.0085, 0.78, 0.6379, 0.5416, 305.5309, 3.0, 1.0, 1.0, 283.15),
            *(-0.044, 0.1958, 0.1088, -0.1978, 1.0571, 0.0854, -0.6875, -0.0117, 0.0529, -0.0175, 0.5692, 0.0875),
        ],
        38,
    ),
    "nmc_schmalstieg_2014": ([*M1, 298.15, 3.15, 1.0, 1.0], 21),
    "lmo_xu_2018": ([4.14e-10, 1.40e5, -0.501, -1.23e5, 1.0, 1.04, 0.5, 0.0693, 298.15, 0.0575, 121], 11),
    # The last: 1C of the tests is 2 A, from memory.
    "lfp_power_wang_2011": (
        [*M2_CALENDAR, 8.314, 2.2, 0.55, 31700, 370.3, 2.0, 0.5, 2, 6, 10, 31630, 21681, 12934, 15512, 2.0],
        21,
    ),
    # 65 °C is 338.15 K
    "edlc_3000F_10K_0p2V": ([1500, 338.15, 10, 0.2, *DRIFT], 14),
    "edlc_3000F_10K_0p1V": ([1500, 338.15, 10, 0.1, *DRIFT], 14),
    # 0.1 V ln 2 / ln 1.3 = 0.0693147 / 0.2623643 = 0.264192, by hand
    "edlc_3000F_10K_x1p3": ([1500, 338.15, 10, 0.2641925, *DRIFT], 14),
    "edlc_3000F_three_ratings": ([87600, 298.15, 0.883415, 0.163771, *DRIFT], 14),
    "edlc_2000F_b": ([2500, 338.15, 0.7725, 0.2, *DRIFT], 14),
}


def profile(folder, name):
    return read_profile(profiles_folder() / folder / f"{name}.toml", name)[0]


def test_shipped_ids():
    assert shipped_ids("batteries") == BATTERIES
    assert shipped_ids("ultracapacitors") == ULTRACAPACITORS
    assert shipped_ids("climates") == ("cold", "hot_dry", "mild_marine", "temperate")


@pytest.mark.parametrize(("folder", "name"), ALL)
def test_coefficients_are_the_published_ones(folder, name):
    published, count = FINGERPRINTS[name]
    shipped = [value for entry in profile(folder, name).law.coefficients.values() for value in entry.values]
    assert len(shipped) == count
    assert sorted(shipped) == sorted(published)
    assert sum(shipped) == pytest.approx(sum(published), rel=1e-12)


@pytest.mark.parametrize(("folder", "name"), ALL)
def test_every_value_has_unit_source_and_grade(folder, name):
    cell = load_cell(name, "battery" if folder == "batteries" else "ultracapacitor", Path())
    assert len(cell.provenance) > 20
    for entry in cell.provenance:
        assert entry.source
        assert entry.grade in ("primary source", "secondary source", "unverified", "derived")
        assert entry.unit or isinstance(entry.value, str)
    assert len(cell.caveats) >= 5
    assert any("doi 10." in reference for reference in cell.references)


@pytest.mark.parametrize(("folder", "name"), ALL)
def test_caveats_say_the_standing_things(folder, name):
    text = " ".join(profile(folder, name).caveats)
    if folder == "batteries":
        assert "Redondo-Iglesias" in text
    else:
        assert "factor of 3.65" in text


@pytest.mark.parametrize("name", BATTERIES)
def test_curve_stays_inside_the_cell_limits(name):
    cell = load_cell(name, "battery", Path())
    curve = cell.open_circuit
    assert cell.minimum_voltage_V < curve(0.0) < cell.nominal_voltage_V < curve(1.0) < cell.maximum_voltage_V
    # the trade's usual limits (common practice, no source): LFP 3.6 V, NMC and LMO 4.2 V
    assert cell.maximum_voltage_V == (3.6 if name.startswith("lfp") else 4.2)


def test_ultracapacitor_cells_carry_the_datasheet_numbers():
    # datasheet of the 2.7 V family: 3000 F, 0.29 mOhm, 510 g, 2200 A for 1 s, 130 A continuous, 3.2 K/W, 600 J/K
    for name in ULTRACAPACITORS[1:]:
        cell = load_cell(name, "ultracapacitor", Path())
        assert (cell.capacitance_F, cell.maximum_voltage_V) == (3000.0, 2.7)
        assert cell.absolute_maximum_voltage_V == 2.85
        assert (cell.resistance_ohm, cell.mass_kg) == (0.29e-3, 0.510)
        assert (cell.maximum_current_A, cell.continuous_current_A) == (2200.0, 130.0)
        assert (cell.thermal_resistance_K_per_W, cell.heat_capacity_J_per_K) == (3.2, 600.0)


@pytest.mark.parametrize("name", BATTERIES)
def test_every_battery_says_what_is_known_of_charging_in_the_cold(name):
    cell = load_cell(name, "battery", Path())
    (entry,) = (entry for entry in cell.provenance if entry.key == "cold_charging")
    assert "below 0 °C" in entry.value
    assert "battery.limits.charge" in entry.value
    # None of it was read in a primary source.
    assert entry.grade in ("secondary source", "unverified")
    assert cell.caveats[-1] == f"Charging in the cold ({entry.grade}): {entry.value}"
