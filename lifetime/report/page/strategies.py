"""Each strategy by itself: the end of life of each source, its figures, its pictures, its cash flows."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from markupsafe import Markup

from lifetime.report.figures.day_svg import day_svg
from lifetime.report.figures.source_data import cycle_figure, health_figure, time_figure
from lifetime.report.figures.source_svg import capacity_svg, map_svg, resistance_svg
from lifetime.report.page.modes import ModeRow, loss_apart, mode_rows
from lifetime.report.words import (
    CRITERIA,
    PARTS,
    design_sentence,
    end_sentence,
    energy_sentence,
    life_words,
    reference_sentence,
)
from lifetime.results.cost import Cost
from lifetime.results.document import ResultDocument
from lifetime.results.source import BatteryView, SourceView
from lifetime.results.strategy import StrategyView
from lifetime.results.view import SourceKind
from lifetime.text import percent, printable, short_life, significant

Picture = tuple[Markup, str]

_NONE = "–"


@dataclass(frozen=True, slots=True)
class CashFlowText:
    """One cash flow as text.

    Args:
        year: When it falls due.
        item: Its cost item.
        amount: At constant prices.
        present: Its present value.
    """

    year: str
    item: str
    amount: str
    present: str


@dataclass(slots=True)
class SourceSection:
    """What the report shows of one source besides its figures.

    Args:
        part: Which source.
        name: What it is called.
        view: The source.
        pictures: Filled while there is room.
    """

    part: SourceKind
    name: str
    view: SourceView
    pictures: list[Picture] = field(default_factory=list)


@dataclass(slots=True)
class StrategySection:
    """Everything the report says about one strategy.

    Args:
        number: Its place in the report, from 1.
        name: Its name.
        heading: The name with the rank.
        view: The strategy.
        ends: The end of life of each source in a sentence, and how the split compares.
        parts: Names of its sources, the heads of the columns of ``rows``.
        rows: Its figures, one value a source.
        modes: What each source does in each drive mode.
        loss_apart: What charging and rest contribute, in a sentence.
        sources: Its sources.
        cash_flows: Every cash flow.
        total: Net present cost; None where there is none.
        no_cost: Why there is no cost; empty where there is one.
        day_picture: Filled while there is room.
    """

    number: int
    name: str
    heading: str
    view: StrategyView
    ends: list[tuple[str, str]]
    parts: list[str]
    rows: list[tuple[str, list[str]]]
    modes: list[ModeRow]
    loss_apart: str
    sources: list[SourceSection]
    cash_flows: list[CashFlowText]
    total: str | None
    no_cost: str
    day_picture: Markup | None = None


def strategy_section(number: int, one: StrategyView, currency: str) -> StrategySection:
    """Everything the report says about one strategy, pictures apart.

    Args:
        number: Its place in the report, from 1.
        one: The strategy.
        currency: Of the study.
    """
    name, cost = printable(one.name), one.cost
    told = {
        "Split": reference_sentence(one.reference_split),
        "Energy": energy_sentence(one, currency),
        "Design": design_sentence(one),
    }
    return StrategySection(
        number=number,
        name=name,
        heading=name if one.rank is None else f"{one.rank}. {name}",
        view=one,
        ends=[(PARTS[part], end_sentence(source)) for part, source in one.sources.items()]
        + [(heading, words) for heading, words in told.items() if words],
        parts=[PARTS[part] for part in one.sources],
        rows=_rows(list(one.sources.values())),
        modes=mode_rows(one.day),
        loss_apart=loss_apart(one.day),
        sources=[SourceSection(part, PARTS[part], source) for part, source in one.sources.items()],
        cash_flows=_cash_flows(cost) if isinstance(cost, Cost) else [],
        total=f"{cost.net_present_cost:,.0f}" if isinstance(cost, Cost) else None,
        no_cost="" if isinstance(cost, Cost) else cost.reason,
    )


def day_picture(one: StrategyView, salt: str) -> Markup | None:
    """The picture of a strategy's day; None where it has none.

    Args:
        one: The strategy.
        salt: Told into the ids of the picture.
    """
    return None if one.day is None else Markup(day_svg(one.day, salt))  # noqa: S704 - the library escaped its texts


def source_pictures(document: ResultDocument, position: int, part: SourceKind) -> list[Picture]:
    """The pictures of one source, each with its caption.

    Args:
        document: The result document.
        position: Strategy, counted from 0 in the order of rank.
        part: ``battery`` or ``ultracapacitor``.
    """
    salt = f"{part[:3]}{position}"
    found: list[tuple[str | None, str]] = []
    health = health_figure(document, position, part)
    if health is not None:
        found.append((capacity_svg(health, salt), f"{health.capacity_name} over the years; capacity loss by cause."))
        found.append((resistance_svg(health, salt), f"{health.resistance_name} over the years."))
    cycles = cycle_figure(document, position, part)
    if cycles is not None:
        found.append((map_svg(cycles, f"{salt}-cycles"), CAPTIONS["cycles"][part]))
    time = time_figure(document, position, part)
    if time is not None:
        found.append((map_svg(time, f"{salt}-time"), CAPTIONS["time"][part]))
    # Every text inside was escaped by the drawing library; the markup is our own.
    return [(Markup(svg), caption) for svg, caption in found if svg is not None]  # noqa: S704


CAPTIONS: Mapping[str, Mapping[SourceKind, str]] = {
    "cycles": {
        "battery": "Cycles per year at beginning of life, by depth of discharge and mean state of charge.",
        "ultracapacitor": "Cycles per year at beginning of life, by voltage swing and mean voltage.",
    },
    "time": {
        "battery": "Hours per year at beginning of life, by state of charge and temperature.",
        "ultracapacitor": "Hours per year at beginning of life, by voltage and temperature.",
    },
}
"""What the two maps of a source show."""


def _cash_flows(cost: Cost) -> list[CashFlowText]:
    return [
        CashFlowText(f"{flow.year:.2f}", flow.item, f"{flow.amount:,.0f}", f"{flow.present_value:,.0f}")
        for flow in cost.cash_flows
    ]


def _energy_losses(source: SourceView) -> str:
    """Losses of what the source delivers; none where it cannot."""
    if source.life_state == "requirement_not_met":
        return _NONE
    return f"{significant(source.energy_losses_kWh_per_year)} kWh"


_FIGURES: tuple[tuple[str, Callable[[SourceView], str]], ...] = (
    ("Life", life_words),
    ("End-of-life criterion", lambda one: CRITERIA[one.end_of_life_criterion] if one.end_of_life_criterion else _NONE),
    ("Capacity (capacitance) at service end", lambda one: _percent(one.capacity_left)),
    ("Resistance (ESR) at service end", lambda one: _percent(one.resistance_left)),
    ("Calendar share of the capacity loss", lambda one: _percent(one.calendar_share_fraction)),
    ("Cyclic share of the capacity loss", lambda one: _percent(one.cyclic_share_fraction)),
    ("Equivalent full cycles per year", lambda one: significant(one.equivalent_full_cycles_per_year)),
    ("Throughput per year (charge + discharge)", lambda one: f"{significant(one.throughput_Ah_per_year)} Ah"),
    ("Throughput averaged out as noise", lambda one: _percent(one.averaged_out_throughput_fraction)),
    ("Throughput of small cycles not counted", lambda one: _percent(one.not_counted_throughput_fraction)),
    ("Current while driving, rms", lambda one: f"{significant(one.rms_current_A)} A"),
    ("Current while driving, peak", lambda one: f"{significant(one.peak_current_A)} A"),
    ("Energy losses per year", _energy_losses),
    ("Lowest state of charge at beginning of life", lambda one: percent(one.lowest_soc)),
    ("Highest state of charge at beginning of life", lambda one: percent(one.highest_soc)),
    ("Charge balance not closed, per day", lambda one: f"{significant(one.open_charge_Ah_per_day)} Ah"),
)


def _rows(sources: Sequence[SourceView]) -> list[tuple[str, list[str]]]:
    rows = [(name, [told(one) for one in sources]) for name, told in _FIGURES]
    if any(one.small_cycles for one in sources):
        rows.append(("Life with every small cycle", [_all_cycles(one) for one in sources]))
    if any(isinstance(one, BatteryView) and one.corner_power is not None for one in sources):
        rows.append(("Power in the stated corner at beginning of life", [_corner_power(one) for one in sources]))
    return rows


def _corner_power(source: SourceView) -> str:
    power = source.corner_power if isinstance(source, BatteryView) else None
    if power is None:
        return _NONE
    asked = power.required_W / 1000.0
    return f"{significant(power.available_W / 1000.0)} kW of {significant(asked)} kW asked"


def _all_cycles(source: SourceView) -> str:
    return _NONE if source.small_cycles is None else short_life(source.small_cycles.life_years_with_all_cycles)


def _percent(fraction: float | None) -> str:
    return _NONE if fraction is None else percent(fraction)
