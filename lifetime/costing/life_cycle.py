"""Life-cycle cost of a hybrid pack: dated cash flows that can be checked by hand, and their present value.

The method is that of ASTM E917 and NIST Handbook 135: first purchase today, every later cash flow discounted from the
day it falls due, the residual value at the end of service as a credit. The rules:

* The first purchase is at year 0 and is not discounted.
* A source is replaced at each whole multiple of its life that lies strictly before the end of service, at the same
  price, plus labour. A life that ends together with the service is not followed by a replacement.
* The residual value of the last one at the end of service is straight-line: purchase * (1 - years used / life).
* Energy losses are paid for at the end of each year, and for the last part of a year at the end of service.

Prices are in today's money, any currency; so the discount rate is a real one (``discounting.real_rate``).
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from math import ceil, floor, fsum
from typing import Final, Literal

from lifetime.checks import in_range
from lifetime.constants import LIFE_SEARCH_YEARS
from lifetime.costing.discounting import ONE_DAY_YEARS, YEARS_HIGH, capital_recovery, single_present_value
from lifetime.notices import Notice

Source = Literal["battery", "ultracapacitor"]

COST_ITEMS: Final = (
    "battery purchase",
    "battery replacement",
    "battery labour",
    "battery residual",
    "ultracapacitor purchase",
    "ultracapacitor replacement",
    "ultracapacitor labour",
    "ultracapacitor residual",
    "energy losses",
)
"""Every cost item, in the order of the list and of a stacked bar."""

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
            search limit of 50 years: no replacement follows, and the residual value is that of a life of 50 years,
            which understates the credit rather than guess at a longer life.
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
    """The terms that are the same for every strategy that is compared.

    Args:
        service_years: How long the vehicle must run [years], one day to 50 years; need not be whole.
        discount_rate: Real discount rate [1/year], 0 to 1.
        electricity_per_kWh: Price of the energy losses [currency/kWh], 0 to 1e12.
        distance_km_per_year: Distance driven [km/year], 0 to 1e9; None or 0 where a cost per km has no meaning.
        residual_credit: Whether the residual value at the end of service counts. What a used battery fetches is
            disputed; False shows the cost if it fetches nothing.

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
class CashFlow:
    """One line of the list; cash flows of 0 are not listed.

    Args:
        year: When it falls due [years from the start of service].
        item: One of ``COST_ITEMS``.
        source: Which source it is for; "both" for the energy losses.
        amount: In constant prices of today [currency]; a credit is negative.
        present_value: Amount times the discount factor of its year [currency].
    """

    year: float
    item: str
    source: Source | Literal["both"]
    amount: float
    present_value: float


@dataclass(frozen=True, slots=True)
class LifeCycleCost:
    """What one strategy costs over the service life.

    Args:
        cash_flows: Every cash flow, in order of its date.
        net_present_cost: Sum of the present values [currency].
        present_value_by_item: The same sum for each of ``COST_ITEMS`` [currency]; 0 where there is none.
        equivalent_annual_cost: The uniform payment at each year's end with the same present value [currency/year].
        cost_per_km: ``equivalent_annual_cost`` over the distance of a year [currency/km]; None where less than a
            metre is driven.
        replacements: How often each source is replaced; a strategy without a bank has no such entry.
        notices: What was assumed on the way.
    """

    cash_flows: tuple[CashFlow, ...]
    net_present_cost: float
    present_value_by_item: dict[str, float]
    equivalent_annual_cost: float
    cost_per_km: float | None
    replacements: dict[Source, int]
    notices: tuple[Notice, ...]


@dataclass(frozen=True, slots=True)
class NoLifeCycleCost:
    """A strategy without a life-cycle cost.

    Args:
        reason: Why not, as a clause that names the source.
    """

    reason: str


def life_cycle_cost(
    battery: SourceCost,
    terms: CostTerms,
    *,
    energy_losses_kWh_per_year: float,
    ultracapacitor: SourceCost | None = None,
) -> LifeCycleCost:
    """List the cash flows of one strategy and discount them (ASTM E917, NIST Handbook 135).

    A longer life never raises the result: replacements come later or fall away, and where one falls away the
    straight-line residual value makes up for its price.

    Args:
        battery: The battery pack.
        terms: Service life and prices, the same for every strategy compared.
        energy_losses_kWh_per_year: Energy losses of both sources together [kWh/year], 0 to 1e12.
        ultracapacitor: The ultracapacitor bank; None where there is none.

    Raises:
        NumberError: The energy is not finite or out of range.
    """
    energy_losses = in_range(energy_losses_kWh_per_year, "energy losses [kWh/year]", 0, MAX_AMOUNT)
    sources: dict[Source, SourceCost] = {"battery": battery}
    if ultracapacitor is not None:
        sources["ultracapacitor"] = ultracapacitor
    cash_flows = [flow for name, source in sources.items() for flow in _source_cash_flows(name, source, terms)]
    cash_flows += _energy_cash_flows(energy_losses * terms.electricity_per_kWh, terms)
    cash_flows.sort(key=lambda flow: (flow.year, COST_ITEMS.index(flow.item)))
    net_present_cost = _present_value_sum(cash_flows)
    equivalent_annual_cost = net_present_cost * capital_recovery(terms.discount_rate, terms.service_years)
    distance = terms.distance_km_per_year
    return LifeCycleCost(
        cash_flows=tuple(cash_flows),
        net_present_cost=net_present_cost,
        present_value_by_item={
            item: _present_value_sum(flow for flow in cash_flows if flow.item == item) for item in COST_ITEMS
        },
        equivalent_annual_cost=equivalent_annual_cost,
        cost_per_km=equivalent_annual_cost / distance if distance is not None and distance >= ONE_METRE_KM else None,
        replacements={name: _service(source, terms).replacements for name, source in sources.items()},
        notices=tuple(
            _assumed_life_notice(name)
            for name, source in sources.items()
            if source.life_years is None and terms.residual_credit
        ),
    )


@dataclass(frozen=True, slots=True)
class _Service:
    """How a source gets through the service life: replacements, the life between them, and what is left of the last."""

    replacements: int
    life_years: float
    residual_fraction: float


def _service(source: SourceCost, terms: CostTerms) -> _Service:
    life = LIFE_SEARCH_YEARS if source.life_years is None else source.life_years
    lives = _snapped(terms.service_years / life)
    replacements = ceil(lives) - 1
    return _Service(replacements, life, replacements + 1 - lives)


def _snapped(number: float) -> float:
    """The nearest whole number where that is the same within rounding, else the number itself."""
    whole = round(number)
    return float(whole) if abs(number - whole) <= SAME * number else number


def _source_cash_flows(name: Source, source: SourceCost, terms: CostTerms) -> Iterator[CashFlow]:
    service = _service(source, terms)
    dated = [(0.0, f"{name} purchase", source.purchase)]
    for number in range(1, service.replacements + 1):
        dated.append((number * service.life_years, f"{name} replacement", source.purchase))
        dated.append((number * service.life_years, f"{name} labour", source.replacement_labour))
    if terms.residual_credit:
        dated.append((terms.service_years, f"{name} residual", -source.purchase * service.residual_fraction))
    for year, item, amount in dated:
        if amount:
            yield CashFlow(year, item, name, amount, amount * single_present_value(terms.discount_rate, year))


def _energy_cash_flows(amount_per_year: float, terms: CostTerms) -> Iterator[CashFlow]:
    years = _snapped(terms.service_years)
    whole = floor(years)
    dated = [(float(year), amount_per_year) for year in range(1, whole + 1)]
    dated.append((years, amount_per_year * (years - whole)))
    for year, amount in dated:
        if amount:
            present = amount * single_present_value(terms.discount_rate, year)
            yield CashFlow(year, "energy losses", "both", amount, present)


def _present_value_sum(cash_flows: Iterable[CashFlow]) -> float:
    return fsum(flow.present_value for flow in cash_flows)


SOURCE_NAMES: Final[dict[Source, str]] = {"battery": "battery", "ultracapacitor": "ultracapacitor bank"}
"""What a sentence calls a source."""


def _assumed_life_notice(name: Source) -> Notice:
    return Notice(
        code="residual_life_assumed",
        message=(
            f"The {SOURCE_NAMES[name]} outlasts the search limit of {LIFE_SEARCH_YEARS:g} years; its residual value is "
            f"that of a life of {LIFE_SEARCH_YEARS:g} years, so the credit is rather too small than too large."
        ),
        severity="note",
    )
