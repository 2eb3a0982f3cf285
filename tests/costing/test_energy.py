"""Energy bought beside hand calculations of the corrections for stores that end the day at another content."""

import pytest

from lifetime.costing.energy import EnergyBought, RefillPath
from lifetime.errors import NumberError

PATH = RefillPath(charger=0.92, battery_charging=0.97, bank=0.95)


def test_factors_at_the_meter():
    """By hand: 1 / (0.92 * 0.97) = 1.12057 into the battery, over 0.95 = 1.17955 into the bank."""
    assert PATH.into_battery(1.0) == pytest.approx(1.12057, abs=5e-6)
    assert PATH.into_bank(1.0) == pytest.approx(1.17955, abs=5e-6)


def test_a_day_that_ends_short_is_corrected():
    """By hand: 45.00 kWh metered, battery 0.40 kWh short, a bank of 13.889 F from 480 to 430 V 0.08777 kWh: 45.5518.

    A rival at 45.60 kWh that ends as it began costs 0.05 kWh more, not 0.60.
    """
    bank_kWh = 0.5 * (3000 / 216) * (480**2 - 430**2) / 3.6e6
    assert bank_kWh == pytest.approx(0.08777, abs=5e-6)
    bought = EnergyBought(45.00, PATH.into_battery(0.40), PATH.into_bank(bank_kWh))
    assert bought.total_kWh_per_year == pytest.approx(45.5518, abs=5e-5)


def test_what_the_bank_gives_back_loses_on_its_way():
    """By hand: pre-charge 270 to 480 V of 13.889 F takes 0.303819 / 0.95 = 0.31981 kWh; back out, net 0.0312 kWh."""
    through = RefillPath(charger=1.0, bank=0.95)
    precharge = 0.5 * (3000 / 216) * (480**2 - 270**2) / 3.6e6
    assert precharge == pytest.approx(0.303819, abs=5e-7)
    assert through.into_bank(precharge) == pytest.approx(0.31981, abs=5e-6)
    assert through.into_bank(precharge) + through.into_bank(-precharge) == pytest.approx(0.0312, abs=5e-5)


@pytest.mark.parametrize("efficiency", [0.0, 1.01, 92.0, float("nan")])
def test_an_impossible_efficiency_is_refused(efficiency):
    with pytest.raises(NumberError, match=r"efficiency \(bank\)"):
        RefillPath(0.92, 0.97, efficiency)
