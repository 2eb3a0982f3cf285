"""What the sections of a study ask of several keys together, and what stands where a key is left out."""

import pytest

from lifetime.study.duty import Day, Service
from lifetime.study.evaluation import Counting, EndOfLife
from lifetime.study.prices import BatteryPrice, UltracapacitorPrice
from lifetime.study.sections import Ultracapacitor

DAY = "service.day"
CIRCUIT = "battery.open_circuit"


class TestDay:
    @pytest.mark.parametrize("key", ["charge_c_rate", "charge_to_soc"])
    def test_rate_and_end_of_charging_belong_together(self, faults, key):
        found = faults({f"{DAY}.{key}": 0.5})
        assert list(found) == [DAY]
        assert "charge_c_rate and charge_to_soc belong together" in found[DAY]

    def test_both_or_neither_are_taken(self, faults, accept):
        assert faults({f"{DAY}.charge_c_rate": 0.5, f"{DAY}.charge_to_soc": 0.9}) == {}
        day = accept({f"{DAY}.drive_repeats": 2}).service.day
        assert (day.drive_repeats, day.charge_c_rate, day.charge_to_soc) == (2, None, None)
        assert accept().service.day.drive_repeats == 1

    def test_charging_ends_within_the_limits_of_the_battery(self, faults):
        charged = {f"{DAY}.charge_c_rate": 0.5, "battery.minimum_soc": 0.1, "battery.maximum_soc": 0.95}
        assert faults({**charged, f"{DAY}.charge_to_soc": 0.95}) == {}
        for beyond in (0.96, 0.05):
            found = faults({**charged, f"{DAY}.charge_to_soc": beyond})
            assert f"charge_to_soc = {beyond:g} must lie between battery.minimum_soc = 0.1" in found["study"]


EVERYTHING = {"service.histories_cover": "everything"}


class TestService:
    def test_a_driving_history_needs_the_working_days(self, faults, gone):
        found = faults({"service.working_days_per_year": gone})
        assert "working_days_per_year is missing" in found["service"]

    @pytest.mark.parametrize("key", ["working_days_per_year", "day.drive_repeats"])
    def test_a_history_of_everything_takes_no_days(self, faults, gone, key):
        alone = {**EVERYTHING, "service.working_days_per_year": gone}
        assert faults(alone) == {}
        found = faults({**alone, f"service.{key}": 2})
        assert "leave out working_days_per_year and the section service.day" in found["service"]

    def test_the_cover_is_one_of_two_words(self, faults, accept):
        assert accept().service.histories_cover == "driving"
        assert list(faults({"service.histories_cover": "charging"})) == ["service.histories_cover"]

    def test_one_climate(self, faults, gone):
        assert faults({"service.ambient_C": gone, "service.climate": "temperate"}) == {}
        for both_or_neither in ({"service.climate": "temperate"}, {"service.ambient_C": gone}):
            assert 'either climate = "NAME" or ambient_C' in faults(both_or_neither)["service"]

    @pytest.mark.parametrize("months", [11, 13])
    def test_monthly_means_are_twelve(self, faults, months):
        assert faults({"service.ambient_C": [10.0] * 12}) == {}
        assert faults({"service.ambient_C": [10.0] * months})

    @pytest.mark.parametrize("month", [-60.5, 60.5])
    def test_every_monthly_mean_has_the_bounds_of_one_number(self, faults, month):
        assert faults({"service.ambient_C": [10.0] * 11 + [month]})

    def test_how_often_a_year_holds_what_was_recorded(self, accept, gone):
        # A day's history on as many days as are worked; a log of everything, of half a day, twice on each of 365 days.
        assert accept().service.runs_per_year(43_200.0) == 250
        whole = accept({**EVERYTHING, "service.working_days_per_year": gone}).service
        assert whole.runs_per_year(43_200.0) == 2 * 365
        assert whole.distance_days_per_year == 365
        assert accept().service.distance_days_per_year == 250


class TestOpenCircuit:
    @pytest.mark.parametrize("short", ["soc", "voltage_V"])
    def test_a_curve_has_two_points_at_least(self, faults, short):
        curve = {f"{CIRCUIT}.soc": [0.0, 1.0], f"{CIRCUIT}.voltage_V": [3.0, 4.0]}
        assert faults(curve) == {}
        found = faults({**curve, f"{CIRCUIT}.{short}": [1.0]})
        assert found == {f"{CIRCUIT}.{short}": "needs at least 2 entries."}

    def test_it_says_where_it_is_from(self, accept):
        assert accept({f"{CIRCUIT}.soc": [0, 1], f"{CIRCUIT}.voltage_V": [3, 4]}).battery.open_circuit.label


class TestPrices:
    def test_by_the_cell_and_by_size(self):
        # 20 kWh at 100 are 2000; 200 cells at 12 are 2400; 216 cells of 3000 F at 0.01 per farad are 6480.
        assert BatteryPrice(purchase_per_kWh=100).of_pack(20.0, 200) == 2000
        assert BatteryPrice(purchase_per_cell=12).of_pack(20.0, 200) == 2400
        assert BatteryPrice(purchase=7).of_pack(20.0, 200) == UltracapacitorPrice(purchase=7).of_bank(3000.0, 216) == 7
        assert UltracapacitorPrice(purchase_per_farad_cell=0.01).of_bank(3000.0, 216) == pytest.approx(6480)
        assert UltracapacitorPrice(purchase_per_cell=40).of_bank(3000.0, 216) == 8640

    @pytest.mark.parametrize(
        ("pack", "by_size"), [("battery", "purchase_per_kWh"), ("ultracapacitor", "purchase_per_farad_cell")]
    )
    def test_one_price(self, faults, accept, pack, by_size):
        price = f"{pack}.price"
        assert faults({price: {"purchase": 0}}) == faults({price: {by_size: 0}}) == {}
        assert faults({price: {"purchase_per_cell": 0}}) == {}
        whole = "purchase (whole pack)" if pack == "battery" else "purchase (whole bank)"
        for both_or_neither in ({"purchase": 1, by_size: 1}, {"replacement_labour": 1}):
            assert f"give one of {whole}" in faults({price: both_or_neither})[price]
        assert getattr(accept(), pack).price.replacement_labour == 0

    @pytest.mark.parametrize("pack", ["battery", "ultracapacitor"])
    def test_a_pack_has_a_price(self, faults, gone, pack):
        assert faults({f"{pack}.price": gone}) == {
            f"{pack}.price": "is missing; the README's table of keys says what belongs there."
        }


class TestBattery:
    @pytest.mark.parametrize("window", [{"minimum_soc": 0.91}, {"maximum_soc": 0.89}])
    def test_it_starts_within_its_window(self, faults, window):
        inside = {"battery.minimum_soc": 0.9, "battery.maximum_soc": 0.9}
        assert faults(inside) == {}
        found = faults({f"battery.{key}": value for key, value in window.items()})
        assert "start_soc must lie between minimum_soc and maximum_soc" in found["battery"]

    def test_the_window_is_the_whole_battery_unless_given(self, accept):
        battery = accept().battery
        assert (battery.minimum_soc, battery.maximum_soc) == (0.0, 1.0)
        given = (battery.cell_capacity_Ah, battery.minimum_voltage_V, battery.maximum_voltage_V, battery.resistance_ohm)
        assert given == (None, None, None, None)


class TestUltracapacitor:
    def test_it_starts_at_its_minimum_or_above(self, faults):
        start = "ultracapacitor.start_voltage_V"
        assert faults({start: 120.0}) == {}
        assert (
            "start_voltage_V must not lie below minimum_voltage_V (120 V), got 119.9 V"
            in (faults({start: 119.9})["ultracapacitor"])
        )

    @pytest.mark.parametrize("shape", ["linear", "square_root", "burn_in_linear"])
    def test_the_shapes_of_fade(self, faults, shape):
        assert "fade_shape" in Ultracapacitor.model_fields
        assert faults({"ultracapacitor.fade_shape": shape}) == {}
        assert list(faults({"ultracapacitor.fade_shape": f"{shape}s"})) == ["ultracapacitor.fade_shape"]

    @pytest.mark.parametrize("place", ["top", "half", "bottom"])
    def test_where_balancing_acts(self, faults, place):
        assert faults({"ultracapacitor.balancing": place}) == {}
        assert list(faults({"ultracapacitor.balancing": f"{place}s"})) == ["ultracapacitor.balancing"]

    def test_the_limit_of_the_rated_capacitance_stays_above_scrap(self, faults):
        # 0.24/1.2 = 0.2 of the initial capacitance, where a projection stops.
        limit, surplus = "end_of_life.ultracapacitor_capacitance", "ultracapacitor.initial_surplus_fraction"
        assert faults({limit: 0.25, surplus: 0.2}) == {}
        assert "is 0.2 of the initial one" in faults({limit: 0.24, surplus: 0.2})["study"]


def test_limits_in_common_use_stand_where_none_are_given():
    # 80 % of capacity and twice the resistance: common practice, no source.
    limits = EndOfLife()
    assert (limits.battery_capacity, limits.battery_resistance) == (0.8, 2.0)
    assert (limits.ultracapacitor_capacitance, limits.ultracapacitor_esr) == (0.8, 2.0)


def test_small_cycles_are_weighed_and_nothing_is_lost_unless_said(accept):
    assert Counting().model_dump() == {
        "smallest_battery_depth_of_discharge": 0.0,
        "small_cycles": "smooth",
        "half_weight_depth_of_discharge": 0.01,
        "cycle_rate": "time_mean",
        "averaging_s": 1.0,
        "dead_band_c_rate": 0.02,
    }
    study = accept()
    vehicle = study.vehicle.model_dump()
    for given in ("mass_kg", "rolling_resistance", "drag_area_m2"):
        vehicle.pop(given)
    # No rotating mass and no consumer beside the drive; all power reaches the wheels, all braking comes back.
    assert sorted(vehicle.values()) == [0.0, 0.0, 1.0, 1.0]
    assert (study.cost.electricity_per_kWh, study.cost.residual_value) == (0.0, "straight_line")


SECTIONS = ["", "service.", "service.day.", "battery.", "battery.price.", "ultracapacitor.", "ultracapacitor.price."]
SECTIONS += ["vehicle.", "end_of_life.", "counting.", "cost.", "strategy[1]."]


@pytest.mark.parametrize("section", SECTIONS)
def test_an_unknown_key_is_refused_in_every_section(faults, section):
    assert faults({f"{section}colour": "red"}) == {
        f"{section}colour": "is not a key of a study file. Check its spelling, or remove it."
    }


REQUIRED = ["title", "service", "battery", "cost", "strategy", "service.years", "strategy[1].name"]
REQUIRED += [f"battery.{key}" for key in ("cell", "series", "parallel", "start_soc")]
REQUIRED += [f"vehicle.{key}" for key in ("mass_kg", "rolling_resistance", "drag_area_m2")]
REQUIRED += ["ultracapacitor.cell", "ultracapacitor.series", "ultracapacitor.parallel"]
REQUIRED += [f"ultracapacitor.{key}" for key in ("start_voltage_V", "minimum_voltage_V", "rest_voltage_V")]
REQUIRED += ["cost.currency", "cost.discount_rate"]


@pytest.mark.parametrize("key", REQUIRED)
def test_what_only_the_user_knows_has_no_default(faults, gone, key):
    assert list(faults({key: gone})) == [key]


@pytest.mark.parametrize("key", ["vehicle", "ultracapacitor"])
def test_what_a_study_may_leave_out(faults, gone, key):
    assert faults({key: gone}) == {}


@pytest.mark.parametrize("flag", [1, "true"])
def test_a_flag_is_true_or_false(faults, flag):
    assert faults({"ultracapacitor.balance_at_charger": False}) == {}
    assert list(faults({"ultracapacitor.balance_at_charger": flag})) == ["ultracapacitor.balance_at_charger"]


def test_a_section_does_not_change(accept):
    with pytest.raises(ValueError, match="frozen"):
        accept().service.years = 3.0


def test_service_stands_by_itself():
    assert Service(years=1, working_days_per_year=0, climate="temperate").years == 1


CHARGED = {"service.day.charge_c_rate": 0.5, "service.day.charge_to_soc": 0.9}


class TestHoursAndCoolant:
    @pytest.mark.parametrize(("starts", "ends", "after_h"), [(6.0, 5.0, 23.0), (6.0, 6.0, 24.0), (22.0, 4.5, 6.5)])
    def test_charging_ends_in_time_for_the_next_drive(self, starts, ends, after_h):
        day = Day(charge_c_rate=0.5, charge_to_soc=0.9, drive_starts_at_hour=starts, charge_ends_at_hour=ends)
        assert day.charge_ends_after_s == after_h * 3600.0
        assert Day(drive_starts_at_hour=starts).charge_ends_after_s is None

    def test_an_hour_for_charging_needs_the_hour_of_the_drive(self, faults):
        assert (
            "needs drive_starts_at_hour" in faults({**CHARGED, "service.day.charge_ends_at_hour": 5.0})["service.day"]
        )
        hours = {"service.day.charge_ends_at_hour": 5.0, "service.day.drive_starts_at_hour": 6.0}
        assert "charge_c_rate" in faults(hours)["service.day"]
        assert faults({**CHARGED, **hours}) == {}

    def test_a_setpoint_that_nothing_holds(self, faults):
        found = faults({"battery.coolant": {"setpoint_C": 20.0, "resistance_K_per_W": 0.1}})
        assert "give heating_cop, cooling_cop or both" in found["battery.coolant"]
