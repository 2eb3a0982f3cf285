"""Life-cycle cost of a hybrid pack: a dated list of payments that can be checked by hand, and what it is worth today.

The method is that of ASTM E917 and NIST Handbook 135: first purchase today, every later payment discounted from the
day it falls due, the value left at the end of service as a credit. The rules:

* The first purchase is at year 0 and is not discounted.
* A source is replaced at each whole multiple of its life that lies strictly before the end of service, at the same
  price, plus labour. A life that ends together with the service is not followed by a replacement.
* What the last one still has in it at the end of service counts straight-line: purchase * (1 - years used / life).
* Energy lost as heat is paid for at the end of each year, and for the last part of a year at the end of service.

Prices are in today's money, any currency; so the discount rate is a real one (``discounting.real_rate``).
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from math import ceil, floor, fsum
from typing import Final, Literal

from lifetime.checks import in_range
from lifetime.constants import LIFE_SEARCH_YEARS
from lifetime.costing.discounting import ONE_DAY_YEARS, YEARS_HIGH, capital_recovery, single_present_value
from lifetime.notices import Notice

Source = Literal["battery", "ultracapacitor"]

PAYMENT_KINDS: Final = (
    "battery purchase",
    "battery replacement",
    "battery labour",
    "battery residual",
    "ultracapacitor purchase",
    "ultracapacitor replacement",
    "ultracapacitor labour",
    "ultracapacitor residual",
    "energy lost",
)
"""Every kind of payment, in the order of the list and of a stacked bar."""

MAX_AMOUNT: Final = 1e12
ONE_METRE_KM: Final = 1e-3
SAME: Final = 1e-9
"""Relative difference below which two dates are one: a life equal to the horizon must not hang on the last bit."""


@dataclass(frozen=True, slots=True)
class SourceCost:
    """What one source costs and how long it lasts.

    Args:
        purchase: Price of the whole pack or bank [currency], 0 to 1e12; each replacement costs the same again.
        life_years: Predicted life [years], one day to 400 years. None where the end was not reached within the
            search horizon of 50 years: no replacement follows, and the value left is reckoned as if the life were
            50 years, which understates the credit rather than guess at a longer life.
        replacement_labour: Paid at each replacement, not at the first purchase [currency], 0 to 1e12.

    Raises:
        NumberError: A value is not finite or out of range.
    """

    purchase: float
    life_years: float | None
    replacement_labour: float = 0.0

    def __post_init__(self) -> None:
        """Refuse what no price or life can be."""
        in_range(self.purchase, "purchase price [currency]", 0, MAX_AMOUNT)
        in_range(self.replacement_labour, "replacement labour [currency]", 0, MAX_AMOUNT)
        if self.life_years is not None:
            in_range(self.life_years, "life [years]", ONE_DAY_YEARS, YEARS_HIGH)


@dataclass(frozen=True, slots=True)
class CostTerms:
    """What is the same for every strategy that is compared.

    Args:
        service_years: How long the vehicle must run [years], one day to 50 years; need not be whole.
        discount_rate: Real discount rate [1/year], 0 to 1.
        electricity_per_kWh: Price of the energy that was lost [currency/kWh], 0 to 1e12.
        distance_km_per_year: Distance driven [km/year], 0 to 1e9; None or 0 where a cost per km has no meaning.
        residual_credit: Whether the value left at the end of service counts. What a used battery fetches is disputed;
            False shows the cost if it fetches nothing.

    Raises:
        NumberError: A value is not finite or out of range.
    """

    service_years: float
    discount_rate: float
    electricity_per_kWh: float = 0.0
    distance_km_per_year: float | None = None
    residual_credit: bool = True

    def __post_init__(self) -> None:
        """Refuse terms that cannot be reckoned with."""
        in_range(self.service_years, "service life [years]", ONE_DAY_YEARS, LIFE_SEARCH_YEARS)
        in_range(self.discount_rate, "discount rate [1/year]", 0, 1)
        in_range(self.electricity_per_kWh, "electricity price [currency/kWh]", 0, MAX_AMOUNT)
        if self.distance_km_per_year is not None:
            in_range(self.distance_km_per_year, "distance [km/year]", 0, 1e9)


@dataclass(frozen=True, slots=True)
class Payment:
    """One line of the list; payments of nothing are not listed.

    Args:
        year: When it falls due [years from the start of service].
        kind: One of ``PAYMENT_KINDS``.
        source: Which source it is for; "both" for the energy lost.
        amount: In prices of today [currency]; a credit is negative.
        present_value: Amount times the discount factor of its year [currency].
    """

    year: float
    kind: str
    source: Source | Literal["both"]
    amount: float
    present_value: float


@dataclass(frozen=True, slots=True)
class LifeCycleCost:
    """What one strategy costs over the service life.

    Args:
        payments: Every payment, in order of its date.
        net_present: Sum of the present values [currency].
        net_present_by_kind: The same sum apart for each of ``PAYMENT_KINDS`` [currency]; 0 where there is none.
        per_year: The uniform payment at each year's end that is worth the same [currency/year].
        per_km: ``per_year`` over the distance of a year [currency/km]; None where less than a metre is driven.
        replacements: How often each source is replaced; a strategy without a bank has no such entry.
        notices: What was assumed on the way.
    """

    payments: tuple[Payment, ...]
    net_present: float
    net_present_by_kind: dict[str, float]
    per_year: float
    per_km: float | None
    replacements: dict[Source, int]
    notices: tuple[Notice, ...]


@dataclass(frozen=True, slots=True)
class NoCost:
    """A strategy without a life-cycle cost.

    Args:
        reason: Why not, as a clause that names the source.
    """

    reason: str


def life_cycle_cost(
    battery: SourceCost, terms: CostTerms, *, energy_lost_kWh_per_year: float, ultracapacitor: SourceCost | None = None
) -> LifeCycleCost:
    """List the payments of one strategy and discount them (ASTM E917, NIST Handbook 135).

    A longer life never raises the result: replacements come later or fall away, and just where one falls away the
    straight-line credit makes up for its price.

    Args:
        battery: The battery pack.
        terms: Service life and prices, the same for every strategy compared.
        energy_lost_kWh_per_year: Heat of both sources together [kWh/year], 0 to 1e12.
        ultracapacitor: The ultracapacitor bank; None where there is none.

    Raises:
        NumberError: The energy is not finite or out of range.
    """
    energy_lost = in_range(energy_lost_kWh_per_year, "energy lost [kWh/year]", 0, MAX_AMOUNT)
    sources: dict[Source, SourceCost] = {"battery": battery}
    if ultracapacitor is not None:
        sources["ultracapacitor"] = ultracapacitor
    payments = [payment for name, source in sources.items() for payment in _source_payments(name, source, terms)]
    payments += _energy_payments(energy_lost * terms.electricity_per_kWh, terms)
    payments.sort(key=lambda payment: (payment.year, PAYMENT_KINDS.index(payment.kind)))
    net_present = _net_present(payments)
    per_year = net_present * capital_recovery(terms.discount_rate, terms.service_years)
    distance = terms.distance_km_per_year
    return LifeCycleCost(
        payments=tuple(payments),
        net_present=net_present,
        net_present_by_kind={kind: _net_present([p for p in payments if p.kind == kind]) for kind in PAYMENT_KINDS},
        per_year=per_year,
        per_km=per_year / distance if distance is not None and distance >= ONE_METRE_KM else None,
        replacements={name: _lives(source, terms)[0] for name, source in sources.items()},
        notices=tuple(
            _assumed_life_notice(name)
            for name, source in sources.items()
            if source.life_years is None and terms.residual_credit
        ),
    )


def break_even_purchase(
    reference_net_present: float,
    battery: SourceCost,
    ultracapacitor: SourceCost,
    terms: CostTerms,
    *,
    energy_lost_kWh_per_year: float,
) -> float | None:
    """Price of the ultracapacitor bank at which the hybrid costs as much as the reference.

    Every payment for the bank but its labour is in proportion to its purchase price, so the price follows from one
    division: what the hybrid with a free bank saves, over the present cost of a bank of price 1.

    Args:
        reference_net_present: Net present cost of the strategy to match, usually the battery alone [currency].
        battery: The hybrid's battery.
        ultracapacitor: The bank's life and labour; its purchase price plays no part.
        terms: Service life and prices, the same as for the reference.
        energy_lost_kWh_per_year: Heat of both sources of the hybrid [kWh/year].

    Returns:
        Price of the whole bank [currency], or None where the hybrid is dearer even with a free bank: it never pays.

    Raises:
        NumberError: A number is not finite or out of range.
    """
    reference = in_range(reference_net_present, "net present cost of the reference", -1e18, 1e18)
    free = life_cycle_cost(
        battery,
        terms,
        ultracapacitor=replace(ultracapacitor, purchase=0.0),
        energy_lost_kWh_per_year=energy_lost_kWh_per_year,
    )
    price_of_one = SourceCost(purchase=1.0, life_years=ultracapacitor.life_years)
    present_cost_of_one = _net_present(list(_source_payments("ultracapacitor", price_of_one, terms)))
    price = (reference - free.net_present) / present_cost_of_one
    return price if price >= 0 else None


def _lives(source: SourceCost, terms: CostTerms) -> tuple[int, float, float]:
    """Replacements within the service, the life they are dated by, and the fraction left in the last at its end."""
    life = LIFE_SEARCH_YEARS if source.life_years is None else source.life_years
    lives = _snapped(terms.service_years / life)
    replacements = ceil(lives) - 1
    return replacements, life, replacements + 1 - lives


def _snapped(number: float) -> float:
    """The nearest whole number where that is the same within rounding, else the number itself."""
    whole = round(number)
    return float(whole) if abs(number - whole) <= SAME * number else number


def _source_payments(name: Source, source: SourceCost, terms: CostTerms) -> Iterator[Payment]:
    replacements, life, left_fraction = _lives(source, terms)
    dated = [(0.0, f"{name} purchase", source.purchase)]
    for number in range(1, replacements + 1):
        dated.append((number * life, f"{name} replacement", source.purchase))
        dated.append((number * life, f"{name} labour", source.replacement_labour))
    if terms.residual_credit:
        dated.append((terms.service_years, f"{name} residual", -source.purchase * left_fraction))
    for year, kind, amount in dated:
        if amount:
            yield Payment(year, kind, name, amount, amount * single_present_value(terms.discount_rate, year))


def _energy_payments(amount_per_year: float, terms: CostTerms) -> Iterator[Payment]:
    years = _snapped(terms.service_years)
    whole = floor(years)
    dated = [(float(year), amount_per_year) for year in range(1, whole + 1)]
    dated.append((years, amount_per_year * (years - whole)))
    for year, amount in dated:
        if amount:
            present = amount * single_present_value(terms.discount_rate, year)
            yield Payment(year, "energy lost", "both", amount, present)


def _net_present(payments: Sequence[Payment]) -> float:
    return fsum(payment.present_value for payment in payments)


def _assumed_life_notice(name: Source) -> Notice:
    return Notice(
        code="residual_life_assumed",
        message=(
            f"The {name} outlives the search horizon of {LIFE_SEARCH_YEARS:g} years; its value at the end of service "
            f"is reckoned as if it lived {LIFE_SEARCH_YEARS:g} years, so the credit is rather too small than too large."
        ),
        severity="note",
    )
