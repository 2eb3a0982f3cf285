"""Life-cycle cost beside hand calculations; prices are invented, the method is ASTM E917 / NIST Handbook 135."""

import math
import pickle

import pytest

from lifetime.costing.break_even import break_even_price
from lifetime.costing.life_cycle import COST_ITEMS, life_cycle_cost
from lifetime.costing.terms import CostTerms, SourceCost
from lifetime.errors import NumberError

CENT = 0.005
TWELVE_YEARS = CostTerms(service_years=12, discount_rate=0.05)


def cost(battery, terms=TWELVE_YEARS, ultracapacitor=None, energy_losses=0.0):
    return life_cycle_cost(battery, terms, ultracapacitor=ultracapacitor, energy_bought_kWh_per_year=energy_losses)


def listed(result, item):
    return [(flow.year, flow.amount) for flow in result.cash_flows if flow.item == item]


def test_a_longer_battery_life_need_not_pay_for_its_bank():
    """Hand calculation, 12 years at 5 %; the order of A and B flips at a bank worth 2759.73 today.

    A: 12000 (1 + 1.05^-8 - 0.5 * 1.05^-12) = 16 781.05; annuity 1893.33.
    B: 12000 (1 + 1.05^-10 - 0.8 * 1.05^-12) = 14 021.32, bank 3500 (1 - 0.2 * 1.05^-12) = 3110.21, sum 17 131.53.
    """
    alone = cost(SourceCost(12_000, 8))
    bank = SourceCost(3500, 15)
    hybrid = cost(SourceCost(12_000, 10), ultracapacitor=bank)
    by_item = hybrid.present_value_by_item
    assert alone.net_present_cost == pytest.approx(16_781.05, abs=CENT)
    assert alone.present_value_by_item["battery residual"] == pytest.approx(-3341.02, abs=CENT)
    assert alone.equivalent_annual_cost == pytest.approx(1893.33, abs=CENT)
    assert cost(SourceCost(12_000, 10)).net_present_cost == pytest.approx(14_021.32, abs=CENT)
    assert by_item["ultracapacitor residual"] == pytest.approx(-389.79, abs=CENT)
    assert by_item["ultracapacitor purchase"] + by_item["ultracapacitor residual"] == pytest.approx(3110.21, abs=CENT)
    assert hybrid.net_present_cost == pytest.approx(17_131.53, abs=CENT)
    assert hybrid.replacements == {"battery": 1, "ultracapacitor": 0}
    price = break_even_price("ultracapacitor", hybrid, alone)
    assert price * (1 - 0.2 * 1.05**-12) == pytest.approx(2759.73, abs=CENT)


def test_levelised_cost_of_storage():
    """Discounted cost over discounted throughput, 4000 kWh a year (Schmidt et al., Joule 3 (2019) 81): 0.47333."""
    terms = CostTerms(service_years=12, discount_rate=0.05, distance_km_per_year=4000)
    assert cost(SourceCost(12_000, 8), terms).cost_per_km == pytest.approx(0.47333, abs=5e-6)  # kWh in the place of km


def test_replacement_dates_and_no_replacement_at_the_end_of_service():
    """Textbook setting (batteries renewed every few years): 2500 each, life 4 of 12 years, 6 %.

    Hand calculation: 2500 (1.06^-4 + 1.06^-8) = 3548.77, a year 423.29. A needless third at year 12 would make 4791.19.
    """
    result = cost(SourceCost(2500, 4), CostTerms(service_years=12, discount_rate=0.06))
    renewal = result.present_value_by_item["battery replacement"]
    assert listed(result, "battery replacement") == [(4, 2500), (8, 2500)]
    assert renewal == pytest.approx(3548.77, abs=CENT)
    assert renewal * result.equivalent_annual_cost / result.net_present_cost == pytest.approx(423.29, abs=CENT)
    assert listed(result, "battery residual") == []


@pytest.mark.parametrize(
    ("life", "service"), [(12, 12), (12 * (1 + 5e-10), 12), (12 * (1 - 5e-10), 12), (0.1, 0.3), (0.3, 0.9), (1.1, 3.3)]
)
def test_life_that_ends_with_the_service(life, service):
    """By definition: neither a replacement nor anything left, whatever the last bit of the quotient says."""
    result = cost(SourceCost(1000, life), CostTerms(service_years=service, discount_rate=0.05))
    assert result.replacements["battery"] == round(service / life) - 1
    assert result.present_value_by_item["battery residual"] == 0


def test_value_left_in_the_last_pack():
    """Hand calculation: 8000, life 5 of 12 years, 5 %: bought at 0, 5 and 10, three fifths left, worth 4800 at year 12.

    8000 (1 + 1.05^-5 + 1.05^-10) = 19 179.52 without the credit, 16 506.70 with it.
    """
    with_credit = cost(SourceCost(8000, 5))
    without = cost(SourceCost(8000, 5), CostTerms(service_years=12, discount_rate=0.05, residual="none"))
    (year, amount), *more = listed(with_credit, "battery residual")
    assert (year, more) == (12, [])
    assert amount == pytest.approx(-4800, rel=1e-12)
    assert with_credit.net_present_cost == pytest.approx(16_506.70, abs=CENT)
    assert without.net_present_cost == pytest.approx(19_179.52, abs=CENT)
    assert listed(without, "battery residual") == []


def test_labour_is_paid_at_each_replacement_but_not_at_first():
    """Hand calculation: life 5 of 12 years, labour 600 at 5 and 10: 600 (1.05^-5 + 1.05^-10) = 838.46."""
    result = cost(SourceCost(8000, 5, replacement_labour=600))
    assert listed(result, "battery labour") == [(5, 600), (10, 600)]
    assert result.present_value_by_item["battery labour"] == pytest.approx(600 * (1.05**-5 + 1.05**-10), rel=1e-12)


def test_energy_is_paid_at_the_end_of_each_year_and_of_the_last_part():
    """Closed form: 500 kWh at 0.2 is 100 a year; over 2.5 years 100 (1/1.05 + 1.05^-2) + 50 * 1.05^-2.5."""
    terms = CostTerms(service_years=2.5, discount_rate=0.05, electricity_per_kWh=0.2)
    result = cost(SourceCost(0, None), terms, energy_losses=500)
    assert listed(result, "energy bought") == [(1, 100), (2, 100), (2.5, 50)]
    assert {flow.source for flow in result.cash_flows} == {"both"}
    assert result.net_present_cost == pytest.approx(100 * (1 / 1.05 + 1.05**-2) + 50 * 1.05**-2.5, rel=1e-12)


def test_energy_over_whole_years_is_the_printed_uniform_present_value():
    """UPV(8 %, 10 years) = 6.7101 as printed in compound-interest tables."""
    terms = CostTerms(service_years=10, discount_rate=0.08, electricity_per_kWh=1)
    result = cost(SourceCost(0, None), terms, energy_losses=1)
    assert round(result.net_present_cost, 4) == 6.7101
    assert result.equivalent_annual_cost == pytest.approx(1, rel=1e-12)


def test_life_beyond_the_search_horizon():
    """Stated rule: reckoned as 50 years, so (1 - 12/50) of the price is left after 12; and the result says so."""
    result = cost(SourceCost(1000, None), ultracapacitor=SourceCost(500, 15))
    assert result.replacements == {"battery": 0, "ultracapacitor": 0}
    assert listed(result, "battery residual") == [(12, pytest.approx(-760, rel=1e-12))]
    assert [(notice.code, notice.severity) for notice in result.notices] == [("residual_life_assumed", "note")]
    assert "battery" in result.notices[0].message
    assert cost(SourceCost(1000, 50)).notices == ()


def test_cash_flows_are_dated_in_order_and_of_known_items():
    terms = CostTerms(10, 0.06, electricity_per_kWh=0.2, distance_km_per_year=18_000, downtime_per_day=300)
    bank = SourceCost(5000, 7, 800, 0.02, 0.05, 1)
    result = cost(SourceCost(9000, 4, 1500, 0.04, 0.1, 2), terms, bank, energy_losses=900)
    years = [flow.year for flow in result.cash_flows]
    assert years == sorted(years)
    assert {flow.item for flow in result.cash_flows} == set(COST_ITEMS) == set(result.present_value_by_item)
    assert result.cost_per_km == result.equivalent_annual_cost / 18_000
    assert pickle.loads(pickle.dumps(result)) == result  # noqa: S301 - our own bytes; results travel between processes


def test_each_cash_flow_is_for_its_source():
    """By definition: all kinds that begin with a source are for it, and the energy lost is for both."""
    terms = CostTerms(service_years=10, discount_rate=0.06, electricity_per_kWh=0.2)
    result = cost(SourceCost(9000, 4, 1500), terms, SourceCost(5000, 7, 800), energy_losses=900)
    assert {(flow.item.split()[0], flow.source) for flow in result.cash_flows} == {
        ("battery", "battery"),
        ("ultracapacitor", "ultracapacitor"),
        ("energy", "both"),
    }


def test_a_metre_a_year_is_a_distance():
    terms = CostTerms(service_years=12, discount_rate=0.05, distance_km_per_year=0.001)
    result = cost(SourceCost(1000, 8), terms)
    assert result.cost_per_km == pytest.approx(1000.0 * result.equivalent_annual_cost)


@pytest.mark.parametrize("distance", [None, 0.0, 5e-324])
def test_no_distance_has_no_cost_per_km(distance):
    terms = CostTerms(service_years=12, discount_rate=0.05, distance_km_per_year=distance)
    assert cost(SourceCost(1000, 8), terms).cost_per_km is None


@pytest.mark.parametrize(
    ("values", "name"),
    [
        ({"purchase": -1, "life_years": 8}, "purchase"),
        ({"purchase": math.nan, "life_years": 8}, "purchase"),
        ({"purchase": 1, "life_years": 0}, "life"),
        ({"purchase": 1, "life_years": math.inf}, "life"),
        ({"purchase": 1, "life_years": 8, "replacement_labour": -1}, "labour"),
        ({"purchase": 1, "life_years": 8, "price_decline": 4}, "decline"),  # percent given as a fraction
        ({"purchase": 1, "life_years": 8, "second_life_fraction": 1.1}, "second-life"),
        ({"purchase": 1, "life_years": 8, "downtime_days": -1}, "downtime"),
    ],
)
def test_impossible_source_is_refused(values, name):
    with pytest.raises(NumberError, match=name):
        SourceCost(**values)


@pytest.mark.parametrize(
    ("values", "name"),
    [
        ({"service_years": 0}, "service life"),
        ({"service_years": 51}, "service life"),
        ({"discount_rate": -0.01}, "discount rate"),
        ({"discount_rate": 6}, "discount rate"),  # percent given as a fraction
        ({"electricity_per_kWh": -0.2}, "electricity"),
        ({"distance_km_per_year": -1}, "distance"),
        ({"downtime_per_day": -1}, "downtime"),
    ],
)
def test_impossible_terms_are_refused(values, name):
    with pytest.raises(NumberError, match=name):
        CostTerms(**{"service_years": 10, "discount_rate": 0.06} | values)


def test_impossible_energy_is_refused():
    with pytest.raises(NumberError, match="energy bought"):
        cost(SourceCost(1, 8), energy_losses=math.nan)


YEARLY = 300 / (0.92 * 0.97)
"""Days a year over the efficiencies of charger and charging."""
ALL_TERMS = CostTerms(12, 0.05, electricity_per_kWh=0.20, downtime_per_day=400)


def worked(life_years, kWh_per_day):
    """12 years at 5 %, 300 days a year; prices fall 4 % a year, second life a tenth of the price then, 2 idle days."""
    source = SourceCost(12_000, life_years, price_decline=0.04, second_life_fraction=0.1, downtime_days=2)
    return cost(source, ALL_TERMS, energy_losses=kWh_per_day * YEARLY)


@pytest.mark.parametrize(
    ("life", "energy", "price", "replaced", "second_life", "downtime", "residual", "yearly", "bought", "total"),
    [
        (8, 41.6, 8656.67, 5859.18, -585.92, 541.47, -2410.18, 2796.95, 24_790.1, 40_194.6),
        (10, 42.4, 7977.99, 4897.79, -489.78, 491.13, -3553.96, 2850.74, 25_266.8, 38_612.0),
    ],
)
def test_all_terms_together(life, energy, price, replaced, second_life, downtime, residual, yearly, bought, total):
    """Worked by hand from ASTM E917 / NIST Handbook 135 factors.

    Life 8: price then 12 000 * 0.96^8 = 8656.67, times 1.05^-8 = 5859.18; second life a tenth of it; downtime
    800 * 1.05^-8; half of its price left, 4328.34 * 1.05^-12; energy 41.6 * 300 * 0.20 / (0.92 * 0.97) a year, UPV
    8.86325. Life 10 likewise, with four fifths left.
    """
    result = worked(life, energy)
    by_item = result.present_value_by_item
    assert listed(result, "battery replacement") == [(life, pytest.approx(price, abs=CENT))]
    assert by_item["battery replacement"] == pytest.approx(replaced, abs=CENT)
    assert by_item["battery second life"] == pytest.approx(second_life, abs=CENT)
    assert by_item["battery downtime"] == pytest.approx(downtime, abs=CENT)
    assert by_item["battery residual"] == pytest.approx(residual, abs=CENT)
    assert listed(result, "energy bought")[0] == (1, pytest.approx(yearly, abs=CENT))
    assert by_item["energy bought"] == pytest.approx(bought, abs=0.05)
    assert result.net_present_cost == pytest.approx(total, abs=0.05)


def test_what_a_bank_may_cost_with_all_terms():
    """The same two: their difference is 1582.6; at flat prices without energy, downtime or second life it is 2759.7."""
    assert worked(8, 41.6).net_present_cost - worked(10, 42.4).net_present_cost == pytest.approx(1582.6, abs=0.1)
    plain = cost(SourceCost(12_000, 8)).net_present_cost - cost(SourceCost(12_000, 10)).net_present_cost
    assert plain == pytest.approx(2759.7, abs=0.05)


def test_the_last_pack_in_three_ways():
    """By hand: 10 000, life 8 of 12 years at rate 0, second life a tenth: half is left, a tenth, nothing."""
    source = SourceCost(10_000, 8, second_life_fraction=0.1)
    ways = cost(source, CostTerms(12, 0.0)).net_present_cost_by_residual
    assert ways == pytest.approx({"straight_line": 14_000, "second_life": 18_000, "none": 19_000})
    # A pack used up by nine tenths and more is worth its second life.
    worn = cost(SourceCost(10_000, 12.6, second_life_fraction=0.1), CostTerms(12, 0.0))
    assert listed(worn, "battery residual") == [(12, pytest.approx(-1000))]
