"""What each physical effect does to life or cost: pairs of studies that differ in it alone, beside what is published.

Where no paper is named, the size follows from a closed form, written beside it. Prices, packs and duty are invented.
Run with ``-s`` to see the table: the figure before and after, its movement, and the movement expected.
"""

import copy
from dataclasses import dataclass

import numpy as np
import pytest

from lifetime.assessment.run import assess
from lifetime.packs.locate import profiles_folder
from lifetime.study.load import Folder, resolve_study

REPEATS = 8
DAYS = 300.0
CHARGER = 0.92
PRICE = 0.20
YEARS = 12.0
UPV = 8.86325
"""Uniform present value of 12 years at 5 % (ASTM E917): (1 - 1.05^-12) / 0.05."""
DAY_MINUTES = 10 * REPEATS
TRACTION_W = ((60e3, 12.0), (15e3, 23.0))
"""Power and how long, in each minute of the drive; then braking, then rest."""
BRAKING_W = (45e3, 7.0)
BRAKING_KWH = DAY_MINUTES * BRAKING_W[0] * BRAKING_W[1] / 3.6e6
"""7 kWh a day."""
TRACTION_KWH = DAY_MINUTES * sum(power * seconds for power, seconds in TRACTION_W) / 3.6e6
BANK_F = 3000.0 / 216.0
CURRENT = {"file": "current.csv", "time": "t_s", "current": "i_A", "interpolation": "zero_order_hold"}
DEMAND = {"file": "demand.csv", "time": "t_s", "power": "p_W", "interpolation": "zero_order_hold"}


@dataclass(frozen=True)
class Effect:
    """One line of the table.

    Args:
        name: What differs between the two studies.
        figure: What moves, with its unit.
        before: The figure without the effect.
        after: With it.
        lowest: The least that ``after`` may be by what is published.
        highest: The most.
        source: Where both come from.
    """

    name: str
    figure: str
    before: float
    after: float
    lowest: float
    highest: float
    source: str

    def line(self):
        """The effect as a line of the table."""
        moved, low, high = (100.0 * (one / self.before - 1.0) for one in (self.after, self.lowest, self.highest))
        between = f"{low:+.3f} to {high:+.3f}"
        return (
            f"{self.name:40} {self.figure:26} {self.before:9.5g} {self.after:9.5g} {moved:+9.3f} "
            f"{between:>20}  {self.source}"
        )


def about(name, figure, before, after, expected, source, within=1e-3):
    """An effect whose movement is known: within a fraction of it."""
    slack = within * abs(expected - before) + 1e-9 * abs(before)
    return Effect(name, figure, before, after, expected - slack, expected + slack, source)


@pytest.fixture(scope="module")
def table():
    """The effects found, printed when all are."""
    found = []
    yield found
    head = f"{'effect':40} {'figure':26} {'before':>9} {'after':>9} {'moved, %':>9} {'expected, %':>20}  source"
    print("\n", head, *(one.line() for one in found), sep="\n")


@pytest.fixture
def check(table):
    """Put an effect into the table and hold it to what is published."""

    def _check(effect):
        table.append(effect)
        assert effect.lowest <= effect.after <= effect.highest

    return _check


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    path = tmp_path_factory.mktemp("effects")
    time = np.arange(601.0)
    of_minute = time % 60.0
    power = np.select([of_minute < 12, of_minute < 35, of_minute < 42], [60e3, 15e3, -45e3], 0.0)
    power[-1] = 0.0
    for name, column, values in (("demand", "p_W", power), ("current", "i_A", power / 500.0)):
        np.savetxt(
            path / f"{name}.csv", np.column_stack([time, values]), delimiter=",", header=f"t_s,{column}", comments=""
        )
    return path


def base(**split):
    """About 40 kWh without resistance to speak of, so that what is bought can be reckoned by hand; every pack and bank
    lasts 8 and 12 years, so that the cost moves by what is bought alone.
    """
    return {
        "title": "effects",
        "service": {
            "years": YEARS,
            "working_days_per_year": DAYS,
            "ambient_C": 15.0,
            "day": {
                "drive_repeats": REPEATS,
                "charge_c_rate": 0.3,
                "charge_to_soc": 0.9,
                "charger_efficiency": CHARGER,
            },
        },
        "battery": {
            "cell": "lfp_naumann_2020",
            "series": 160,
            "parallel": 27,
            "start_soc": 0.9,
            "resistance_ohm": 1e-5,
            "price": {"purchase": 12e3},
        },
        "ultracapacitor": {
            "cell": "edlc_3000F_10K_0p2V",
            "series": 216,
            "parallel": 1,
            "start_voltage_V": 480.0,
            "minimum_voltage_V": 270.0,
            "maximum_voltage_V": 540.0,
            "rest_voltage_V": 480.0,
            "price": {"purchase": 5e3},
        },
        "end_of_life": {"battery_longest_life_years": 8.0, "ultracapacitor_longest_life_years": 12.0},
        "cost": {"currency": "EUR", "discount_rate": 0.05, "electricity_per_kWh": PRICE},
        "strategy": [{"name": "A", "demand": DEMAND, "split": {"rule": "battery_only", **split}}],
    }


def changed(study, place, value):
    """The study with one key changed."""
    study = copy.deepcopy(study)
    *path, last = place.split(".")
    part = study
    for key in path:
        part = part[int(key)] if isinstance(part, list) else part.setdefault(key, {})
    part[last] = value
    return study


@pytest.fixture(scope="module")
def assessed(folder):
    """The only strategy of a study, assessed."""

    def _assessed(study):
        return assess(resolve_study(study, "study", Folder(folder)), in_detail=False).strategies[0]

    return _assessed


@pytest.fixture(scope="module")
def pair(assessed):
    """Both results of a study and of the same with one key changed."""
    return lambda study, place, value: (assessed(study), assessed(changed(study, place, value)))


def bought(result):
    return result.energy.total_kWh_per_year


def net_cost(result):
    return result.life_cycle_cost.net_present_cost


def paid(kWh_per_day, efficiency=CHARGER):
    """Present cost of an energy that the charger brings each working day."""
    return kWh_per_day * DAYS / efficiency * PRICE * UPV


def sharing(fraction, **more):
    """A study in which the battery takes a constant fraction, and a bank of eighty strings the rest."""
    rule = {"demand_W": [0.0, 1.0], "ultracapacitor_voltage_V": [1.0, 2.0], "battery_fraction": [[fraction] * 2] * 2}
    study = base(**more)
    study["strategy"][0]["split"] |= {"rule": "lookup", **rule}
    study["ultracapacitor"] |= {"parallel": 80}
    return changed(study, "machine", {"rated_power_W": 100e3, "copper_loss_fraction": 0.03})


def test_energy_bought_over_the_efficiency_of_a_converter(check, pair):
    # Of what is asked for a quarter more is drawn, and of what braking gives back a fifth is missing.
    before, after = pair(base(battery_loss={"efficiency": 1.0}), "strategy.0.split.battery_loss.efficiency", 0.8)
    more_kWh = TRACTION_KWH * (1.0 / 0.8 - 1.0) + BRAKING_KWH * (1.0 - 0.8)
    source = "energy over efficiency"
    expected = bought(before) + more_kWh * DAYS / CHARGER
    check(about("converter 100 to 80 %", "bought, kWh/year", bought(before), bought(after), expected, source))
    expected = net_cost(before) + paid(more_kWh)
    check(about("converter 100 to 80 %", "net present cost, EUR", net_cost(before), net_cost(after), expected, source))


def test_braking_that_the_cold_does_not_take_is_bought_again(check, pair):
    # Makers of LFP cells allow no charge below 0 °C; the pack is charged elsewhere.
    cold = changed(base(), "service.ambient_C", -10.0)
    limits = {"temperature_C": [-40.0, 0.0], "pulse_1s": [0.0, 2.0]}
    before, after = pair(cold, "battery.limits.charge", limits)
    source = "E / charger efficiency"
    expected = bought(before) + BRAKING_KWH * DAYS / CHARGER
    check(about("no charge below 0 °C", "bought, kWh/year", bought(before), bought(after), expected, source))
    expected = net_cost(before) + paid(BRAKING_KWH)
    check(about("no charge below 0 °C", "net present cost, EUR", net_cost(before), net_cost(after), expected, source))


def test_copper_of_both_winding_sets(check, pair):
    # Shared evenly, 3 % at 100 kW are 1080 W at 60 kW, 67.5 W at 15 kW and 607.5 W at 45 kW.
    plain = changed(base(), "machine", {"rated_power_W": 100e3, "copper_loss_fraction": 0.0})
    before, after = pair(plain, "machine.copper_loss_fraction", 0.03)
    copper_kWh = DAY_MINUTES * (1080.0 * 12.0 + 67.5 * 23.0 + 607.5 * 7.0) / 3.6e6
    expected = net_cost(before) + paid(copper_kWh)
    check(about("copper 0 to 3 %", "net present cost, EUR", net_cost(before), net_cost(after), expected, "R I^2"))


def test_a_bank_refilled_for_what_its_converter_loses(check, pair):
    # Half of the demand: the bank ends the day shorter by that half of what the converter loses, and the battery
    # refills it at 95 %. Eighty strings lose nothing to speak of themselves, and no winding does here.
    study = changed(sharing(0.5), "strategy.0.split.ultracapacitor_loss", {"efficiency": 1.0})
    del study["machine"]
    before, after = pair(study, "strategy.0.split.ultracapacitor_loss.efficiency", 0.8)
    short_kWh = 0.5 * (TRACTION_KWH * (1.0 / 0.8 - 1.0) + BRAKING_KWH * (1.0 - 0.8))
    expected = net_cost(before) + paid(short_kWh / 0.95)
    costs = net_cost(before), net_cost(after)
    check(
        about("bank's converter 100 to 80 %", "net present cost, EUR", *costs, expected, "energy over efficiency", 2e-3)
    )


@pytest.mark.parametrize(("fraction", "factor"), [(0.5, 1.0), (0.8, 1.36), (1.0, 2.0)])
def test_one_sided_running_loses_more_copper(check, assessed, pair, fraction, factor):
    """Even shares behind one inverter, against two winding sets with a share of each source: 1 + (2 x - 1)^2."""
    before, after = pair(sharing(fraction, topology="two_converters"), "strategy.0.split.topology", "two_inverters")
    lost = [one.energy.converter_kWh_per_year for one in (before, after)]
    name, source = f"topology: winding sets, share {fraction}", "1 + (2 x - 1)^2"
    check(about(name, "lost on the way, kWh/year", *lost, factor * lost[0], source))


@pytest.mark.parametrize(("at_rest", "taken"), [("lost", 1.0 / 0.95), ("returned", 1.0 / 0.95 - 0.95)])
def test_a_bank_that_rests_lower_is_charged_each_day(check, pair, at_rest, taken):
    # 216 cells of 3000 F from 270 to 480 V: 0.303819 kWh.
    study = changed(sharing(1.0), "ultracapacitor.energy_at_rest", at_rest)
    study["ultracapacitor"]["parallel"] = 1
    before, after = pair(study, "ultracapacitor.rest_voltage_V", 270.0)
    up_kWh = BANK_F * (480.0**2 - 270.0**2) / 2.0 / 3.6e6
    assert up_kWh == pytest.approx(0.303819, abs=5e-7)
    expected = net_cost(before) + paid(taken * up_kWh)
    name = f"pre-charge 270 to 480 V, {at_rest}"
    check(about(name, "net present cost, EUR", net_cost(before), net_cost(after), expected, "C (V1^2 - V0^2) / 2"))


def test_a_bank_that_rests_lower_lives_longer(check, pair):
    # 0.9722 V a cell lower for all but 80 minutes of 300 days: the rate of ageing halves every 0.2 V, and the loss is
    # the square root of what it adds up to.
    study = sharing(1.0)
    before, after = pair(study, "ultracapacitor.rest_voltage_V", 270.0)
    driven = DAY_MINUTES / 1440.0 * DAYS / 365.0
    rate = driven + (1.0 - driven) * 2.0 ** (-(480.0 - 270.0) / 216.0 / 0.2)
    losses = [1.0 - one.ultracapacitor.capacity_fraction_at_service_end for one in (before, after)]
    expected = losses[0] * rate**0.5
    check(about("rest at 480 to 270 V", "bank's capacitance lost", *losses, expected, "2^(V / 0.2 V)", 0.01))


def test_a_later_pack_is_cheaper_where_prices_fall(check, pair):
    # 12,000 bought again after 8 years at 5 %: 8122.07 at constant prices, 8656.67 / 1.05^8 = 5859.18 where they fall.
    study = changed(base(), "cost.residual_value", "none")
    before, after = pair(study, "battery.price.price_decline_fraction_per_year", 0.04)
    packs = [one.life_cycle_cost.present_value_by_item["battery replacement"] for one in (before, after)]
    assert packs[0] == pytest.approx(8122.07, abs=0.01)
    name, source = "price trend 0 to -4 % a year", "(1 - g)^8 / 1.05^8"
    check(about(name, "second pack, EUR", *packs, 5859.18, source, 1e-5))
    assert net_cost(after) - net_cost(before) == pytest.approx(5859.18 - 8122.07, abs=0.02)


def own_cell(folder, activation):
    """The shipped set with an activation energy of the resistance of its own."""
    shipped = (profiles_folder() / "batteries" / "lfp_naumann_2020.toml").read_text(encoding="utf-8")
    line = "activation_energy = { value = 20.0,"
    assert line in shipped
    name = f"own_{activation:g}.toml"
    own = shipped.replace(line, f"activation_energy = {{ value = {activation},").replace("range = [7.0, 45.0], ", "")
    (folder / name).write_text(own, encoding="utf-8")
    return name


@pytest.mark.parametrize(
    ("activation", "ambient_C", "factor"),
    [(20.0, 10.0, 1.533), (20.0, -10.0, 2.925), (20.0, -20.0, 4.196), (45.0, 10.0, 2.616)],
)
def test_resistance_in_the_cold(check, pair, folder, activation, ambient_C, factor):
    """A pack as cold as the air, by the current it carries: the heat goes by R(T) alone."""
    study = changed(base(), "service.ambient_C", ambient_C)
    study["battery"] |= {"resistance_ohm": 0.05, "cell": own_cell(folder, 0.0)}
    study["strategy"] = [{"name": "A", "battery": CURRENT}]
    before, after = pair(study, "battery.cell", own_cell(folder, activation))
    heat = [one.battery.energy_losses_kWh_per_year for one in (before, after)]
    name = f"R(T) of {activation:g} kJ/mol at {ambient_C:g} °C"
    check(about(name, "battery's heat, kWh/year", *heat, factor * heat[0], "exp[Ea/R (1/T - 1/298.15 K)]", 2e-3))


def test_resistance_in_the_cold_costs_energy(check, pair, folder):
    """At -10 °C and 20 kJ/mol, by the power asked for.

    117 A through 0.146 ohm take 17 of 524 V: up to 3.5 % more current and 7 % more heat on discharge, less on braking.
    """
    study = changed(base(), "service.ambient_C", -10.0)
    study["battery"] |= {"resistance_ohm": 0.05, "cell": own_cell(folder, 0.0)}
    before, after = pair(study, "battery.cell", own_cell(folder, 20.0))
    heat_kWh = before.battery.energy_losses_kWh_per_year / DAYS
    low, high = (net_cost(before) + paid(1.925 * heat_kWh * (1.0 + slack)) for slack in (-0.1, 0.1))
    costs = net_cost(before), net_cost(after)
    check(Effect("R(T) x 2.925, -10 °C", "net present cost, EUR", *costs, low, high, "heat over charger efficiency"))


def test_heat_in_the_cold_shortens_life(check, pair, folder):
    """Mean warmth is mean heat times thermal resistance; Naumann 2018: calendar loss goes by exp(-17126 J/mol / (R T)).

    Life goes by the square of the summed losses, and cycle loss knows no temperature. That is the most, for warm hours
    are those below 90 % charge: at 50 % it is 0.59 of that, by the square of 2.8575 (s - 0.5)^3 + 0.60225.
    """
    study = changed(base(), "service.ambient_C", -10.0)
    study["battery"] |= {"resistance_ohm": 0.05, "cell": own_cell(folder, 0.0)}
    study["battery"] |= {"thermal": {"resistance_K_per_W": 0.02, "heat_capacity_J_per_K": 180e3}}
    study["strategy"] = [{"name": "A", "battery": CURRENT}]
    before, after = pair(study, "battery.cell", own_cell(folder, 20.0))
    heat_W = [one.battery.energy_losses_kWh_per_year / 8.760 for one in (before, after)]
    share = before.battery.calendar_share_fraction
    faster = 2.0 * share * 17126.0 / (8.3145 * 263.15**2) * 0.02 * (heat_W[1] - heat_W[0])
    lives = [one.battery.life_years for one in (before, after)]
    lowest, highest = (lives[0] * (1.0 - part * faster) for part in (1.0, 0.59))
    name, source = "R(T) of 20 kJ/mol at -10 °C, its warmth", "Arrhenius of Naumann 2018"
    check(Effect(name, "battery life, years", *lives, lowest, highest, source))


def test_a_model_held_at_the_highest_tested_rate(check, folder):
    """Naumann 2020: kC = 0.0630 C + 0.0971, tested to 1C; ten minutes at 2C out, ten back in: 0.2231 for 0.1601.

    Both losses follow a square root of time, so life goes by the square of their sum.
    """
    rated_A = 2.0 * 27 * 3.0
    time = np.arange(1201.0)
    current = np.where(time < 600.0, rated_A, -rated_A)
    current[-1] = 0.0
    np.savetxt(
        folder / "two.csv", np.column_stack([time, current]), delimiter=",", header="t_s,i_A", comments="", fmt="%.3f"
    )
    study = base()
    study["service"] |= {"cycling_between": "states_of_charge", "day": {"drive_repeats": REPEATS}}
    study["strategy"] = [{"name": "A", "battery": CURRENT | {"file": "two.csv"}}]
    (one,) = assess(resolve_study(study, "study", Folder(folder))).strategies
    held, free = one.battery.life_years, one.without_limits.battery_life_years
    share = one.battery.cyclic_share_fraction
    expected = held / (1.0 - share + share * 0.2231 / 0.1601) ** 2
    check(
        about(
            "clamp: 2C, held at 1C, set free", "battery life, years", held, free, expected, "kC of Naumann 2020", 0.03
        )
    )
