"""Break-even prices beside hand calculations; prices are invented, the method is ASTM E917 / NIST Handbook 135."""

import pytest

from lifetime.costing.break_even import break_even_price
from lifetime.costing.life_cycle import life_cycle_cost
from lifetime.costing.terms import CostTerms, SourceCost

CENT = 0.005


def cost(battery, bank=None, *, rate=0.05, losses=0.0):
    """18 years of service; nothing is credited at its end, and energy costs 1 per kWh."""
    terms = CostTerms(service_years=18, discount_rate=rate, electricity_per_kWh=1, residual="none")
    return life_cycle_cost(battery, terms, ultracapacitor=bank, energy_bought_kWh_per_year=losses)


@pytest.mark.parametrize("bank_price", [1.0, 3000.0, 90_000.0])
@pytest.mark.parametrize(
    ("rate", "bank_life", "price"), [(0.05, 18, 5267.55), (0.0, 18, 8000), (0.05, 10, 3263.84), (0.05, None, 5267.55)]
)
def test_price_of_the_bank(rate, bank_life, price, bank_price):
    """Hand calculation: battery 8000, life 6 years alone and 9 with the bank; the price the study has plays no part.

    8000 (1.05^-6 + 1.05^-12 - 1.05^-9) = 5267.55; undiscounted 8000; over (1 + 1.05^-10) if the bank is renewed once.
    """
    hybrid = cost(SourceCost(8000, 9), SourceCost(bank_price, bank_life), rate=rate)
    found = break_even_price("ultracapacitor", hybrid, cost(SourceCost(8000, 6), rate=rate))
    assert found == pytest.approx(price, abs=CENT)


def test_labour_and_losses_do_not_scale_with_the_price():
    """Hand calculation, undiscounted: the saving of 8000 less labour of 600 once and 18 years of 100 for energy."""
    hybrid = cost(SourceCost(8000, 9), SourceCost(1000, 9, replacement_labour=600), rate=0, losses=100)
    found = break_even_price("ultracapacitor", hybrid, cost(SourceCost(8000, 6), rate=0))
    assert found == pytest.approx((8000 - 600 - 1800) / 2, rel=1e-12)


def test_price_of_the_battery_changes_for_both():
    """Hand calculation, undiscounted: three packs alone, two with a bank of 5000; equal where one pack costs 5000."""
    hybrid = cost(SourceCost(8000, 9), SourceCost(5000, 18), rate=0)
    assert break_even_price("battery", hybrid, cost(SourceCost(8000, 6), rate=0)) == pytest.approx(5000, rel=1e-12)


def test_residual_value_scales_with_the_price():
    """Hand calculation, undiscounted, 12 of 15 years used: a bank of price p costs 0.8 p and saves 0.3 of 10 000."""
    terms = CostTerms(service_years=12, discount_rate=0)
    alone = life_cycle_cost(SourceCost(10_000, 10), terms, energy_bought_kWh_per_year=0)  # 1.2 packs
    bank = SourceCost(100, 15)
    hybrid = life_cycle_cost(SourceCost(7500, 10), terms, ultracapacitor=bank, energy_bought_kWh_per_year=0)
    assert break_even_price("ultracapacitor", hybrid, alone) == pytest.approx(1.2 * 2500 / 0.8, rel=1e-12)


def test_a_bank_that_shortens_battery_life_never_pays():
    """Battery life 5.5 instead of 6 years: 8000 (1.05^-6 + 1.05^-12 - 1.05^-5.5 - 1.05^-11 - 1.05^-16.5) = -3946.73."""
    alone, worse = cost(SourceCost(8000, 6)), cost(SourceCost(8000, 5.5))
    assert alone.net_present_cost - worse.net_present_cost == pytest.approx(-3946.73, abs=CENT)
    assert break_even_price("ultracapacitor", cost(SourceCost(8000, 5.5), SourceCost(1, None)), alone) is None


def test_no_price_where_none_decides():
    """By definition: the same battery in both, a bank for nothing, and a strategy without a bank."""
    alone = cost(SourceCost(8000, 6))
    assert break_even_price("battery", cost(SourceCost(8000, 6), SourceCost(100, 18)), alone) is None
    assert break_even_price("ultracapacitor", cost(SourceCost(8000, 9), SourceCost(0, 18)), alone) is None
    assert break_even_price("ultracapacitor", alone, alone) is None
