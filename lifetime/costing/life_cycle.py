"""Life-cycle cost of a hybrid pack: dated cash flows that can be checked by hand, and their present value.

The method is that of ASTM E917 and NIST Handbook 135: first purchase today, every later cash flow discounted from the
day it falls due, the residual value at the end of service as a credit. The rules:

* The first purchase is at year 0 and is not discounted.
* A source is replaced at each whole multiple of its life that lies strictly before the end of service, at the price of
  that year, plus labour and downtime, less what the replaced one fetches for a second life. A life that ends together
  with the service is not followed by a replacement.
* The residual value of the last one at the end of service is straight-line, price then * (1 - years used / life), and
  at least its second-life value; or only that; or nothing (``CostTerms.residual``).
* Energy bought is paid for at the end of each year, and for the last part of a year at the end of service.

Prices are in today's money, any currency; so the discount rate is a real one (``discounting.real_rate``).
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from math import ceil, floor, fsum
from typing import Final, Literal

from lifetime.checks import in_range
from lifetime.constants import LIFE_SEARCH_YEARS
from lifetime.costing.discounting import capital_recovery, single_present_value
from lifetime.costing.terms import MAX_AMOUNT, RESIDUALS, CostTerms, Residual, Source, SourceCost
from lifetime.notices import Notice

COST_ITEMS: Final = (
    "battery purchase",
    "battery replacement",
    "battery labour",
    "battery downtime",
    "battery second life",
    "battery residual",
    "ultracapacitor purchase",
    "ultracapacitor replacement",
    "ultracapacitor labour",
    "ultracapacitor downtime",
    "ultracapacitor second life",
    "ultracapacitor residual",
    "energy bought",
)
"""Every cost item, in the order of the list and of a stacked bar."""

ONE_METRE_KM: Final = 1e-3
SAME: Final = 1e-9
"""Relative difference below which two dates are one: a life equal to the horizon must not hang on the last bit."""


@dataclass(frozen=True, slots=True)
class CashFlow:
    """One line of the list; cash flows of 0 are not listed.

    Args:
        year: When it falls due [years from the start of service].
        item: One of ``COST_ITEMS``.
        source: Which source it is for; "both" for the energy bought.
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
        net_present_cost_by_residual: The same sum with the last packs valued in each of the ways of ``RESIDUALS``
            [currency].
        present_value_by_item: The same sum for each of ``COST_ITEMS`` [currency]; 0 where there is none.
        equivalent_annual_cost: The uniform payment at each year's end with the same present value [currency/year].
        cost_per_km: ``equivalent_annual_cost`` over the distance of a year [currency/km]; None where less than a
            metre is driven.
        replacements: How often each source is replaced; a strategy without a bank has no such entry.
        notices: What was assumed on the way.
    """

    cash_flows: tuple[CashFlow, ...]
    net_present_cost: float
    net_present_cost_by_residual: dict[Residual, float]
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
    energy_bought_kWh_per_year: float,
    ultracapacitor: SourceCost | None = None,
) -> LifeCycleCost:
    """List the cash flows of one strategy and discount them (ASTM E917, NIST Handbook 135).

    A longer life never raises the result: replacements come later or fall away, and where one falls away the
    straight-line residual value makes up for its price.

    Args:
        battery: The battery pack.
        terms: Service life and prices, the same for every strategy compared.
        energy_bought_kWh_per_year: Energy bought at the meter [kWh/year], -1e12 to 1e12; below 0 where stores end
            fuller by more than is bought.
        ultracapacitor: The ultracapacitor bank; None where there is none.

    Raises:
        NumberError: The energy is not finite or out of range.
    """
    energy = in_range(energy_bought_kWh_per_year, "energy bought [kWh/year]", -MAX_AMOUNT, MAX_AMOUNT)
    sources: dict[Source, SourceCost] = {"battery": battery}
    if ultracapacitor is not None:
        sources["ultracapacitor"] = ultracapacitor
    cash_flows = [flow for name, source in sources.items() for flow in _source_cash_flows(name, source, terms)]
    cash_flows += _energy_cash_flows(energy * terms.electricity_per_kWh, terms)
    cash_flows.sort(key=lambda flow: (flow.year, COST_ITEMS.index(flow.item)))
    net_present_cost = _present_value_sum(cash_flows)
    equivalent_annual_cost = net_present_cost * capital_recovery(terms.discount_rate, terms.service_years)
    distance = terms.distance_km_per_year
    return LifeCycleCost(
        cash_flows=tuple(cash_flows),
        net_present_cost=net_present_cost,
        net_present_cost_by_residual=_by_residual(cash_flows, sources.values(), terms),
        present_value_by_item={
            item: _present_value_sum(flow for flow in cash_flows if flow.item == item) for item in COST_ITEMS
        },
        equivalent_annual_cost=equivalent_annual_cost,
        cost_per_km=equivalent_annual_cost / distance if distance is not None and distance >= ONE_METRE_KM else None,
        replacements={name: _service(source, terms).replacements for name, source in sources.items()},
        notices=tuple(
            _assumed_life_notice(name)
            for name, source in sources.items()
            if source.life_years is None and terms.residual == "straight_line"
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
        year = number * service.life_years
        price = source.price_at(year)
        dated += [
            (year, f"{name} replacement", price),
            (year, f"{name} labour", source.replacement_labour),
            (year, f"{name} downtime", source.downtime_days * terms.downtime_per_day),
            (year, f"{name} second life", -source.second_life_fraction * price),
        ]
    dated.append((terms.service_years, f"{name} residual", -_residual(source, service, terms)))
    for year, item, amount in dated:
        if amount:
            yield CashFlow(year, item, name, amount, amount * single_present_value(terms.discount_rate, year))


def _residual(source: SourceCost, service: _Service, terms: CostTerms) -> float:
    """What the last pack is worth at the end of service [currency]."""
    if terms.residual == "none":
        return 0.0
    second_life = source.second_life_fraction * source.price_at(terms.service_years)
    if terms.residual == "second_life":
        return second_life
    bought = source.price_at(service.replacements * service.life_years)
    return max(bought * service.residual_fraction, second_life)


def _by_residual(
    cash_flows: Iterable[CashFlow], sources: Iterable[SourceCost], terms: CostTerms
) -> dict[Residual, float]:
    """Net present cost with the last packs valued in each way [currency]."""
    others = [flow.present_value for flow in cash_flows if not flow.item.endswith(" residual")]
    at_end = single_present_value(terms.discount_rate, terms.service_years)
    serviced = [(source, _service(source, terms)) for source in sources]
    return {
        way: fsum([*others, *(-at_end * _residual(*one, replace(terms, residual=way)) for one in serviced)])
        for way in RESIDUALS
    }


def _energy_cash_flows(amount_per_year: float, terms: CostTerms) -> Iterator[CashFlow]:
    years = _snapped(terms.service_years)
    whole = floor(years)
    dated = [(float(year), amount_per_year) for year in range(1, whole + 1)]
    dated.append((years, amount_per_year * (years - whole)))
    for year, amount in dated:
        if amount:
            present = amount * single_present_value(terms.discount_rate, year)
            yield CashFlow(year, "energy bought", "both", amount, present)


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
