"""What a cost is reckoned from: the price and life of each source, and the terms that all strategies share."""

from dataclasses import dataclass
from typing import Final, Literal

from lifetime.checks import in_range
from lifetime.constants import LIFE_SEARCH_YEARS
from lifetime.costing.discounting import ONE_DAY_YEARS, YEARS_HIGH

Source = Literal["battery", "ultracapacitor"]
Residual = Literal["straight_line", "second_life", "none"]

RESIDUALS: Final[tuple[Residual, ...]] = ("straight_line", "second_life", "none")
"""Ways to value what is left of the last pack; an order of strategies may hang on which is taken."""

MAX_AMOUNT: Final = 1e12


@dataclass(frozen=True, slots=True)
class SourceCost:
    """What one source costs and how long it lasts.

    Args:
        purchase: Price of the whole pack or bank today [currency], 0 to 1e12.
        life_years: Predicted life [years], one day to 400 years. None where the end was not reached within the
            search limit of 50 years: no replacement follows, and the residual value is that of a life of 50 years,
            which understates the credit rather than guess at a longer life.
        replacement_labour: Paid at each replacement, not at the first purchase [currency], 0 to 1e12.
        price_decline: By how much the price falls a year [1/year], 0 to 0.5; a replacement costs what it costs then.
        second_life_fraction: What a replaced pack fetches, of the price then [0..1].
        downtime_days: Days out of work at each replacement [days], 0 to 365.

    Raises:
        NumberError: A value is not finite or out of range.
    """

    purchase: float
    life_years: float | None
    replacement_labour: float = 0.0
    price_decline: float = 0.0
    second_life_fraction: float = 0.0
    downtime_days: float = 0.0

    def __post_init__(self) -> None:
        """Refuse what no price or life can be."""
        in_range(self.purchase, "purchase price [currency]", 0, MAX_AMOUNT)
        in_range(self.replacement_labour, "replacement labour [currency]", 0, MAX_AMOUNT)
        in_range(self.price_decline, "price decline [1/year]", 0, 0.5)
        in_range(self.second_life_fraction, "second-life value [fraction of the price]", 0, 1)
        in_range(self.downtime_days, "downtime [days]", 0, 365)
        if self.life_years is not None:
            in_range(self.life_years, "life [years]", ONE_DAY_YEARS, YEARS_HIGH)

    def price_at(self, year: float) -> float:
        """Price of the whole pack or bank, bought in some years [currency], ``purchase * (1 - decline)**year``.

        Args:
            year: When [years from now], >= 0.
        """
        return float(self.purchase * (1.0 - self.price_decline) ** year)


@dataclass(frozen=True, slots=True)
class CostTerms:
    """The terms that are the same for every strategy that is compared.

    Args:
        service_years: How long the vehicle must run [years], one day to 50 years; need not be whole.
        discount_rate: Real discount rate [1/year], 0 to 1.
        electricity_per_kWh: Price of the energy bought [currency/kWh], 0 to 1e12.
        distance_km_per_year: Distance driven [km/year], 0 to 1e9; None or 0 where a cost per km has no meaning.
        residual: How the last pack is valued at the end of service. ``straight_line``: its price less what is used of
            its life, and at least its second-life value; ``second_life``: only that; ``none``: it fetches nothing.
        downtime_per_day: What a day out of work costs [currency/day], 0 to 1e12.

    Raises:
        NumberError: A value is not finite or out of range.
    """

    service_years: float
    discount_rate: float
    electricity_per_kWh: float = 0.0
    distance_km_per_year: float | None = None
    residual: Residual = "straight_line"
    downtime_per_day: float = 0.0

    def __post_init__(self) -> None:
        """Refuse terms that cannot be reckoned with."""
        in_range(self.service_years, "service life [years]", ONE_DAY_YEARS, LIFE_SEARCH_YEARS)
        in_range(self.discount_rate, "discount rate [1/year]", 0, 1)
        in_range(self.electricity_per_kWh, "electricity price [currency/kWh]", 0, MAX_AMOUNT)
        in_range(self.downtime_per_day, "downtime [currency/day]", 0, MAX_AMOUNT)
        if self.distance_km_per_year is not None:
            in_range(self.distance_km_per_year, "distance [km/year]", 0, 1e9)
