"""The result document in sentences for people: sources, criteria, ends of life, and what a split reaches."""

import textwrap
from collections.abc import Mapping
from math import ceil, floor

from lifetime.constants import LIFE_SEARCH_YEARS
from lifetime.results.source import Criterion, CriterionReached, SourceView, UltracapacitorView
from lifetime.results.strategy import ReferenceSplitView, StrategyView
from lifetime.results.view import LifeBound, LifeState, SourceKind
from lifetime.text import percent, printable, short_life, significant

PARTS: Mapping[SourceKind, str] = {"battery": "Battery", "ultracapacitor": "Ultracapacitor bank"}
"""The two sources as text, tables and pictures call them."""
SHORT_PARTS: Mapping[SourceKind, str] = {"battery": "battery", "ultracapacitor": "UC"}
"""The same in narrow places."""

CRITERIA: Mapping[Criterion, str] = {
    "capacity": "capacity",
    "resistance": "resistance",
    "capacitance": "capacitance",
    "esr": "ESR",
    "requirement": "requirement not met",
    "power": "power",
}

STATES: Mapping[LifeState, str] = {
    "requirement_not_met": CRITERIA["requirement"],
    "not_limited_by_model": "not limited by this model",
    "beyond_tested_loss": "beyond tested loss",
}
"""States in which a life is no number to the decimal."""

_BOUNDS: Mapping[LifeBound, str] = {"at_most": "at most", "at_least": "at least", "about": "about"}
_SAME_TIME = 1e-6
_ROUNDED = 5e-3
"""Share by which a strategy must pass the least-rms split before the sentence explains why it can."""
_MORE_THAN_ALL = (
    " More than that split is possible: it minimises the rms of the battery's power with a lossless bank, and ageing "
    "also follows state of charge, depth of cycles and temperature."
)
_NO_PART = 1e-3
"""Share of the energy bought below which a part of it is not worth a word."""


def life_words(source: SourceView | None) -> str:
    """A life in as many digits as it deserves.

    Args:
        source: A source, or None where the strategy has none.
    """
    if source is None:
        return "none"
    if source.life_state == "beyond_tested_loss" and source.tested_years is not None:
        return f"> {short_life(source.tested_years)}, {STATES[source.life_state]}"
    if source.life_state in STATES:
        return STATES[source.life_state]
    if source.life_bound is not None and source.life_years is not None:
        return bounded_life(source.life_bound, source.life_years)
    return short_life(source.life_years)


def known_life(years: float | None, longest_years: float | None) -> str:
    """A life, up to the longest that cost goes by.

    Args:
        years: The life [years], or None beyond the search limit.
        longest_years: Longest life in the study [years]; None where there is no such cap.
    """
    if longest_years is None or longest_years >= LIFE_SEARCH_YEARS:
        return short_life(years)
    return f"> {longest_years:g} years" if years is None or years > longest_years else short_life(years)


def bounded_life(bound: LifeBound, years: float) -> str:
    """A life of which only a bound is known, in whole years.

    Args:
        bound: Which way it errs.
        years: The life [years].
    """
    whole = ceil(years) if bound == "at_most" else floor(years) if bound == "at_least" else round(years)
    if whole < 1:
        return "less than a year" if bound == "about" else short_life(years)
    return f"{_BOUNDS[bound]} {whole} year{'' if whole == 1 else 's'}"


def end_sentence(source: SourceView) -> str:
    """When a source reaches its end of life, by which criterion, and which criteria come later.

    Args:
        source: A source of the result document.
    """
    if source.life_state == "requirement_not_met":
        unmet = [one for one in source.criteria if one.criterion in {"requirement", "power"} and one.years is not None]
        bounds = "; ".join(f"power for {one.detail}" if one.criterion == "power" else one.detail for one in unmet)
        return f"Requirement not met at beginning of life{f' ({bounds})' if bounds else ''}."
    if source.life_state == "not_limited_by_model":
        return f"Not limited by this ageing model ({_rated(source)}); cost goes by the longest life in the study."
    if source.life_years is None:
        return f"Life > {LIFE_SEARCH_YEARS:.0f} years (search limit)."
    reached = [one for one in source.criteria if one.years is not None]
    first = [one for one in reached if _together(one.years, source.life_years)]
    criteria = " and ".join(_criterion(one) for one in first)
    words = f"End of life after {life_words(source)}: {criteria}."
    if source.life_state == "beyond_tested_loss" and source.tested_years is not None:
        words = (
            f"After {short_life(source.tested_years)} the loss is that at which the ageing tests ended. Extrapolated, "
            f"and cost goes by that, end of life after {short_life(source.life_years)}: {criteria}; a knee would "
            "bring it forward."
        )
    if source.life_bound is not None and source.in_range_fraction is not None:
        words += f" Only {percent(source.in_range_fraction)} of the duty is inside the ageing model's fitted range."
    later = [f"{_criterion(one)} after {short_life(one.years)}" for one in reached if one not in first]
    return f"{words} Later: {', '.join(later)}." if later else words


def reference_sentence(split: ReferenceSplitView | None) -> str:
    """How a strategy compares with the battery alone and the least-rms split; empty where nothing is known.

    Args:
        split: Of the strategy.
    """
    if split is None:
        return ""
    text = (
        f"Battery power {_kW(split.battery_rms_W)} kW rms, {_kW(split.battery_peak_W)} kW peak; battery alone "
        f"{_kW(split.alone_rms_W)} and {_kW(split.alone_peak_W)} kW, least-rms split {_kW(split.reference_rms_W)} and "
        f"{_kW(split.reference_peak_W)} kW."
    )
    loss = split.reached_capacity_loss_fraction
    if loss is not None:
        text += f" Reaches {percent(loss)} of the least-rms split's reduction of battery capacity loss."
        text += _MORE_THAN_ALL if loss > 1.0 + _ROUNDED else ""
    return text + _no_saving(split)


def energy_sentence(one: StrategyView, currency: str) -> str:
    """What a strategy buys at the meter, and what its bank may cost; empty for results that are older than both.

    Args:
        one: The strategy.
        currency: Of the study.
    """
    energy = one.energy_bought
    if energy is None or any(source.life_state == "requirement_not_met" for source in one.sources.values()):
        return ""
    text = f"{significant(energy.total_kWh_per_year)} kWh bought per year"
    parts = [
        f"{significant(part)} kWh {words}"
        for part, words in (
            (energy.battery_correction_kWh_per_year, "to make up for charge that the day leaves open"),
            (energy.ultracapacitor_kWh_per_year, "for the bank while the vehicle stands"),
            (energy.converter_kWh_per_year, "lost in converters, inverters and windings"),
            (energy.coolant_kWh_per_year, "to hold the battery's coolant at its setpoint"),
        )
        if abs(part) > _NO_PART * abs(energy.total_kWh_per_year)
    ]
    text += f", of which {' and '.join(parts)}." if parts else "."
    split = one.reference_split
    if split is None or one.known_cost is None or split.alone_net_present_cost is None:
        return text
    price = split.ultracapacitor_break_even_price
    if price is None:
        return f"{text} Against the battery alone the bank does not pay at any price."
    return f"{text} Against the battery alone the bank pays up to a price of {price:,.0f} {printable(currency)}."


def design_sentence(one: StrategyView) -> str:
    """Which keys differ for a strategy with a design of its own; empty for any other.

    Args:
        one: The strategy.
    """
    if not one.design:
        return ""
    keys = [printable(f"{key} = {value}") for key, value in one.design.items()]
    return f"Differs from the study in {', '.join(keys)}."


def label_lines(name: str, width: int = 24) -> list[str]:
    """A name for an axis: at most two lines, and nothing that a drawing could stumble over.

    Args:
        name: Any text a user gave.
        width: Characters a line.
    """
    return textwrap.wrap(printable(name), width, max_lines=2, placeholder=" …") or ["(no name)"]


def _rated(source: SourceView) -> str:
    """What the longest life in the study stands beside."""
    if isinstance(source, UltracapacitorView):
        return "makers rate 10 years at rated voltage and 25 °C"
    return "ageing tests last some years, makers design for up to 20"


def _no_saving(split: ReferenceSplitView) -> str:
    """Where the least-rms split saves no cost, or there is none to compare; it does not minimise cost."""
    if split.reached_cost_saving_fraction is not None:
        return ""
    if split.reference_no_cost_reason is not None:
        return f" The least-rms split has no cost to compare with: {split.reference_no_cost_reason}."
    if split.alone_no_cost_reason is not None:
        return f" The battery alone has no cost to compare with: {split.alone_no_cost_reason}."
    alone, reference = split.alone_net_present_cost, split.reference_net_present_cost
    saves = alone is not None and reference is not None and reference < alone
    if saves or split.reached_capacity_loss_fraction is None:
        # What can be saved is known; it is this strategy that has no cost, and its sources say why.
        return ""
    return " The least-rms split, which does not minimise cost, saves none with this ultracapacitor bank."


def _kW(power_W: float) -> str:
    return significant(power_W / 1000.0)


def _criterion(one: CriterionReached) -> str:
    return f"{CRITERIA[one.criterion]}{f' ({one.detail})' if one.detail else ''}"


def _together(one: float | None, other: float) -> bool:
    """Whether two criteria are reached at the same time, rounding apart."""
    return one is not None and abs(one - other) <= _SAME_TIME * max(one, other)
