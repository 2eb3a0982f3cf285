"""The answer in a sentence, and the rows of the ranking."""

from dataclasses import dataclass

from lifetime.report.page.conventions import convention_context
from lifetime.report.page.feasibility import FEASIBILITY_HEADINGS, feasibility_rows
from lifetime.report.page.marks import apart_words, mark_sentences, marks, not_ranked_reason
from lifetime.report.words import CRITERIA, known_life, life_words
from lifetime.results.cost import Cost
from lifetime.results.document import ResultDocument
from lifetime.results.strategy import StrategyView
from lifetime.text import percent, printable, signed_amount, significant

_NONE = "–"


@dataclass(frozen=True, slots=True)
class RankedRow:
    """One strategy of the ranking as text; a dash where there is no number.

    Args:
        rank: Its rank.
        mark: What is told of it below the table.
        name: Its name.
        not_apart: Ranks of those from which the ageing model cannot tell it; empty where there are none.
        battery_life: Life of the battery.
        ultracapacitor_life: Life of the bank.
        batteries: Batteries required over the service life.
        ultracapacitors: Banks required over the service life.
        net_present_cost: In the study's currency.
        difference: Difference to lowest cost.
        equivalent_annual_cost: Per year.
        cost_per_km: Per km.
    """

    rank: str
    mark: str
    name: str
    not_apart: str
    battery_life: str
    ultracapacitor_life: str
    batteries: str
    ultracapacitors: str
    net_present_cost: str
    difference: str
    equivalent_annual_cost: str
    cost_per_km: str

    @property
    def cells(self) -> tuple[str, ...]:
        """Everything after rank and name, in the order of the ranking's columns."""
        return (
            self.battery_life,
            self.ultracapacitor_life,
            self.batteries,
            self.ultracapacitors,
            self.net_present_cost,
            self.difference,
            self.equivalent_annual_cost,
            self.cost_per_km,
        )


def answer(document: ResultDocument) -> str:
    """Which strategy costs least, by how much, and how long its sources last.

    Args:
        document: The result document.
    """
    ranked = [(one, one.known_cost) for one in document.strategies if one.rank is not None]
    costed = [(one, cost) for one, cost in ranked if cost is not None]
    if not costed:
        reasons = dict.fromkeys(not_ranked_reason(one) for one in document.strategies)
        what = "is ranked" if any(one.known_cost is not None for one in document.strategies) else "has a cost"
        return f"No strategy {what}: {'; '.join(reasons)}."
    first = [one for one, _ in costed if one.rank == 1]
    best, lowest = costed[0]
    names = " and ".join(f"“{printable(one.name)}”" for one in first)
    verb = "has the lowest cost" if len(first) == 1 else "have the lowest cost"
    amount = f"{lowest.net_present_cost:,.0f} {printable(lowest.currency)} net present cost"
    words = f"Over {document.study.service_years:g} years of service, {names} {verb}: {amount}."
    if len(first) == 1:
        words += " " + _lives(best)
    if len(costed) > len(first):
        after, cost = costed[len(first)]
        words += f" Next: “{printable(after.name)}”, {_difference(cost, lowest)} more."
        if _are_not_told_apart(document, best.name, after.name):
            words += " The ageing model cannot tell the two apart by battery life."
    return words


@dataclass(frozen=True, slots=True)
class LeverRow:
    """The best strategy with one thing changed, as text.

    Args:
        words: What is changed.
        battery_life: Life of the battery then.
        difference: Cost against the strategy as it is.
    """

    words: str
    battery_life: str
    difference: str


def lever_rows(document: ResultDocument) -> list[LeverRow]:
    """What else would move the best strategy, as text; empty where nothing is known.

    Args:
        document: The result document.
    """
    best = next((one.known_cost for one in document.strategies if one.rank == 1), None)
    if best is None:
        return []
    longest = document.study.end_of_life.battery_longest_life_years
    return [
        LeverRow(
            one.words,
            # A life of nothing is that of a new pack that cannot do the day.
            CRITERIA["requirement"] if one.battery_life_years == 0.0 else known_life(one.battery_life_years, longest),
            "no result"
            if one.net_present_cost is None
            else signed_amount(one.net_present_cost - best.net_present_cost),
        )
        for one in document.levers
    ]


def ranking_rows(document: ResultDocument) -> list[RankedRow]:
    """The cells of the ranking table as text.

    Args:
        document: The result document.
    """
    lowest = next((one.known_cost for one in document.strategies if one.rank == 1), None)
    marked, alike = marks(document), apart_words(document)
    return [_row(one, lowest, marked[one.name], alike.get(one.name, "")) for one in document.strategies]


def ranking_context(document: ResultDocument) -> dict[str, object]:
    """What the templates of report and page show of the ranking.

    Args:
        document: The result document.
    """
    study = document.study
    return {
        "answer": answer(document),
        "ranking": ranking_rows(document),
        "ranking_caption": f"Net present cost over {study.service_years:g} years of service, lowest first "
        f"[{printable(study.currency)}]",
        "mark_sentences": mark_sentences(document),
        **convention_context(document),
        "feasibility": feasibility_rows(document),
        "feasibility_headings": FEASIBILITY_HEADINGS,
        "levers": lever_rows(document),
        "levers_of": printable(document.strategies[0].name),
    }


def _row(one: StrategyView, lowest: Cost | None, mark: str, not_apart: str) -> RankedRow:
    cost = one.known_cost
    banks = None if cost is None else cost.replacements.ultracapacitor
    return RankedRow(
        rank=str(one.rank or _NONE),
        mark=mark,
        name=printable(one.name),
        not_apart=not_apart,
        battery_life=life_words(one.battery),
        ultracapacitor_life=life_words(one.ultracapacitor),
        batteries=_NONE if cost is None else str(1 + cost.replacements.battery),
        ultracapacitors=_NONE if banks is None else str(1 + banks),
        net_present_cost="no result" if cost is None else f"{cost.net_present_cost:,.0f}",
        # The cost of another duty, or beyond limits, differs by more than the strategy.
        difference=_NONE if cost is None or lowest is None or one.rank in (None, 1) else _difference(cost, lowest),
        equivalent_annual_cost=_NONE if cost is None else f"{cost.equivalent_annual_cost:,.0f}",
        cost_per_km=_NONE if cost is None or cost.cost_per_km is None else significant(cost.cost_per_km),
    )


def _are_not_told_apart(document: ResultDocument, *names: str) -> bool:
    order = document.convention_order
    return order is not None and any(set(one.strategies) == set(names) for one in order.indistinct)


def _difference(cost: Cost, lowest: Cost) -> str:
    more = cost.net_present_cost - lowest.net_present_cost
    share = f" ({percent(more / lowest.net_present_cost)})" if lowest.net_present_cost > 0.0 else ""
    return f"{more:,.0f}{share}"


def _lives(one: StrategyView) -> str:
    words = f"Battery life: {life_words(one.battery)}"
    if one.ultracapacitor is None:
        return f"{words}; no ultracapacitor bank."
    return f"{words}; ultracapacitor bank life: {life_words(one.ultracapacitor)}."
