"""The result document in words for people: names of parts and limits, lives with as many digits as they deserve."""

import textwrap
from collections.abc import Mapping
from typing import Any

from lifetime.constants import DAYS_PER_YEAR, LIFE_SEARCH_YEARS

PARTS: Mapping[str, str] = {"battery": "Battery", "ultracapacitor": "Bank"}
"""The two sources as tables and pictures call them; the text explains that the bank is the ultracapacitor bank."""

LIMITS: Mapping[str, str] = {
    "capacity": "capacity",
    "resistance": "resistance",
    "capacitance": "capacitance",
    "esr": "ESR",
    "duty": "no longer delivering its day",
}

_SAME_TIME = 1e-6
_LEAST_IN_YEARS = 0.1
_REPLACEMENT = "\N{REPLACEMENT CHARACTER}"


def counted(number: int, what: str) -> str:
    """A number of things in words: "1 row", "2,000 rows".

    Args:
        number: How many.
        what: One of them; more than one end in s.
    """
    return f"{number:,} {what}{'' if number == 1 else 's'}"


def life_words(source: Mapping[str, Any] | None) -> str:
    """A life in as many digits as it deserves.

    Args:
        source: A source of the result document, or None where the strategy has none.
    """
    if source is None:
        return "none"
    if source["life_state"] == "cannot_deliver":
        return "fails new"
    return short_life(source["life_years"])


def short_life(years: float | None) -> str:
    """A life for a column of a table: in years, or in days below a tenth of a year.

    Args:
        years: The life [years], or None beyond the years searched.
    """
    if years is None:
        return f"> {LIFE_SEARCH_YEARS:.0f} y"
    if years >= _LEAST_IN_YEARS:
        return f"{years:.1f} y"
    days = years * DAYS_PER_YEAR
    return "< 1 d" if days < 1.0 else f"{days:.0f} d"


def long_life(years: float) -> str:
    """A life for a sentence.

    Args:
        years: The life [years].
    """
    if years >= _LEAST_IN_YEARS:
        return f"{years:.1f} years"
    days = years * DAYS_PER_YEAR
    return "less than a day" if days < 1.0 else f"{days:.0f} day{'' if round(days) == 1 else 's'}"


def gain_sentence(gain: Mapping[str, Any] | None) -> str:
    """How a strategy compares with the best possible split; empty where nothing is known.

    Args:
        gain: Of the result document's strategy.
    """
    if gain is None:
        return ""
    text = (
        f"{_kW(gain['battery_rms_W'])} kW rms and {_kW(gain['battery_peak_W'])} kW peak at the battery; alone it would "
        f"be {_kW(gain['alone_rms_W'])} and {_kW(gain['alone_peak_W'])} kW, with the best possible split "
        f"{_kW(gain['best_rms_W'])} and {_kW(gain['best_peak_W'])} kW."
    )
    wear, cost = gain["wear_share"], gain["cost_share"]
    if wear is not None:
        text += f" Reaches {100 * wear:.0f} % of the cut in battery wear that is possible with this bank"
        text += "." if cost is None else f", and {100 * cost:.0f} % of the cut in cost."
    return text + _why_no_cost_share(gain)


def _why_no_cost_share(gain: Mapping[str, Any]) -> str:
    if gain["cost_share"] is not None:
        return ""
    # Documents recorded before a figure or a reason was kept do not hold it.
    unknown = "a source has no life"
    if gain["best_net_present"] is None:
        return f" Not even the best possible split has a cost: {gain.get('best_no_cost_reason') or unknown}."
    if gain.get("alone_net_present", gain["best_net_present"]) is None:
        return f" The battery alone has no cost to compare with: {gain.get('alone_no_cost_reason') or unknown}."
    alone, best = gain.get("alone_net_present"), gain["best_net_present"]
    if gain["wear_share"] is None or (alone is not None and best < alone):
        # What can be saved is known; it is this strategy that has no cost, and its sources say why.
        return ""
    return " Even the best possible split would save no cost with this bank."


def _kW(power_W: float) -> str:
    return f"{power_W / 1000.0:.3g}"


def end_sentence(source: Mapping[str, Any]) -> str:
    """Why and when a source ends, and what comes later.

    Args:
        source: A source of the result document.
    """
    if source["life_state"] == "cannot_deliver":
        bound = next((one["detail"] for one in source["limits"] if one["limit"] == "duty"), "")
        return f"Cannot deliver the day even when new ({bound})." if bound else "Cannot deliver the day even when new."
    if source["life_years"] is None:
        return f"Outlasts the {LIFE_SEARCH_YEARS:.0f} years searched."
    reached = [one for one in source["limits"] if one["years"] is not None]
    first = [one for one in reached if _together(one["years"], source["life_years"])]
    words = f"Ends by {' and '.join(_limit(one) for one in first)} after {long_life(source['life_years'])}"
    later = [f"{_limit(one)} at {long_life(one['years'])}" for one in reached if one not in first]
    return f"{words}; later {', '.join(later)}." if later else f"{words}."


def label_lines(name: str, width: int = 24) -> list[str]:
    """A name for an axis: at most two lines, and nothing that a drawing could stumble over.

    Args:
        name: Any text a user gave.
        width: Characters a line.
    """
    return textwrap.wrap(printable(name), width, max_lines=2, placeholder=" …") or ["(no name)"]


def printable(text: str) -> str:
    """The text with control and formatting characters made visible; XML knows no way to write some of them.

    Args:
        text: Any text a user gave.
    """
    return "".join(one if one.isprintable() else " " if one.isspace() else _REPLACEMENT for one in text)


def _limit(limit: Mapping[str, Any]) -> str:
    bound = f" ({limit['detail']})" if limit["detail"] else ""
    return f"{LIMITS[limit['limit']]}{bound}"


def _together(one: float, other: float) -> bool:
    """Whether two limits come at the same time, rounding apart."""
    return abs(one - other) <= _SAME_TIME * max(one, other)
