"""Each strategy by itself: why each source ends, its figures, its pictures, its payments."""

from collections.abc import Mapping
from typing import Any

from markupsafe import Markup

from lifetime.report.figures.day_svg import day_svg
from lifetime.report.figures.source_data import course_figure, cycle_figure, time_figure
from lifetime.report.figures.source_svg import capacity_svg, map_svg, resistance_svg
from lifetime.report.words import LIMITS, PARTS, end_sentence, gain_sentence, life_words
from lifetime.text import printable, short_life

Picture = tuple[Markup, str]

_NONE = "–"
_MODES = {
    "traction": "traction",
    "regeneration": "regeneration",
    "battery_to_ultracapacitor": "battery charges bank",
    "ultracapacitor_to_battery": "bank charges battery",
    "idle": "idle",
}
_CAPACITY = ("capacity_fraction_at_service_end", "capacitance_fraction_at_service_end")
_RESISTANCE = ("resistance_ratio_at_service_end", "esr_ratio_at_service_end")


def strategy_text(number: int, one: Mapping[str, Any], shown: Mapping[str, Any]) -> dict[str, Any]:
    """Everything the report says about one strategy, pictures apart.

    Args:
        number: Its place in the report, from 1.
        one: The strategy in the result document.
        shown: The same strategy in the detail document.
    """
    parts = [part for part in PARTS if one[part] is not None]
    name = printable(one["name"])
    cost = one["cost"]
    return {
        "number": number,
        "name": name,
        "heading": name if one["rank"] is None else f"{one['rank']}. {name}",
        "ends": [(PARTS[part], end_sentence(one[part])) for part in parts] + _compared(one),
        "parts": [PARTS[part] for part in parts],
        "rows": _rows([(one[part], shown[part]) for part in parts]),
        "modes": _mode_rows(shown.get("day")),
        "wear_apart": _wear_apart(shown.get("day")),
        "day_picture": None,
        "sources": [{"part": part, "name": PARTS[part], "remarks": one[part], "pictures": []} for part in parts],
        "remarks": one,
        "payments": [
            {
                "year": f"{pay['year']:.2f}",
                "kind": pay["kind"].replace("ultracapacitor", "bank"),
                "amount": f"{pay['amount']:,.2f}",
                "present": f"{pay['present_value']:,.2f}",
            }
            for pay in cost.get("payments", [])
        ],
        "total": None if cost["net_present"] is None else f"{cost['net_present']:,.2f}",
        "no_cost": cost.get("reason", ""),
    }


def day_picture(shown: Mapping[str, Any], salt: str) -> Markup | None:
    """The picture of a strategy's day; None where it has none.

    Args:
        shown: The strategy in the detail document.
        salt: Told into the ids of the picture.
    """
    course = shown.get("day")
    return None if course is None else Markup(day_svg(course, salt))  # noqa: S704 - the library escaped its texts


def _mode_rows(course: Mapping[str, Any] | None) -> list[dict[str, str]]:
    """What each source does in each mode, as text; modes that do not occur are left out."""
    if course is None:
        return []
    return [
        {
            "mode": _MODES[row["mode"]],
            "part": PARTS[row["part"]],
            "time": f"{row['time_s'] / 60.0:,.1f}",
            "out": f"{row['energy_out_kWh']:.2f}",
            "in": f"{row['energy_in_kWh']:.2f}",
            "throughput": f"{row['throughput_Ah']:.1f}",
            "rms": f"{row['rms_A']:.1f}",
            "loss": f"{row['loss_kWh']:.3f}",
            "share": f"{100.0 * row['wear_share']:.1f}",
        }
        for row in course["modes"]
        if row["time_s"] > 0.0
    ]


def _wear_apart(course: Mapping[str, Any] | None) -> str:
    """What charging and rest cost, in a sentence."""
    if course is None:
        return ""
    wear = course["battery_wear"]
    total = wear["total_fraction"]
    if total <= 0.0:
        return ""
    charging, resting = (100.0 * wear[key] / total for key in ("charging_fraction", "resting_fraction"))
    return (
        f"Of the battery's capacity loss by service end, {charging:.0f} % comes about while charging and "
        f"{resting:.0f} % at rest. The mode changes {course['mode_changes']:,} times a day; "
        f"{course['transfer_kWh']:.3g} kWh a day go from one source to the other."
    )


def _compared(one: Mapping[str, Any]) -> list[tuple[str, str]]:
    sentence = gain_sentence(one.get("gain"))
    return [("Split", sentence)] if sentence else []


def source_pictures(document: Mapping[str, Any], detail: Mapping[str, Any], position: int, part: str) -> list[Picture]:
    """The pictures of one source, each with its caption.

    Args:
        document: The result document.
        detail: The detail document.
        position: Strategy, counted from 0 in the order of rank.
        part: ``battery`` or ``ultracapacitor``.
    """
    salt = f"{part[:3]}{position}"
    found: list[tuple[str | None, str]] = []
    course = course_figure(document, detail, position, part)
    if course is not None:
        found.append((capacity_svg(course, salt), f"{course.capacity_name} over the years, and what took it."))
        found.append((resistance_svg(course, salt), f"{course.resistance_name} over the years."))
    cycles = cycle_figure(detail, position, part)
    if cycles is not None:
        found.append((map_svg(cycles, f"{salt}-cycles"), "Cycles of a year when new, by depth and mean state."))
    time = time_figure(detail, position, part)
    if time is not None:
        found.append((map_svg(time, f"{salt}-time"), "Hours of a year when new, by state and temperature."))
    # Every text inside was escaped by the drawing library; the markup is our own.
    return [(Markup(svg), caption) for svg, caption in found if svg is not None]  # noqa: S704


def _rows(sources: list[tuple[Mapping[str, Any], Mapping[str, Any]]]) -> list[tuple[str, list[str]]]:
    results = [result for result, _ in sources]
    rows = [
        ("Life", [life_words(one) for one in results]),
        ("Ended by", [LIMITS[one["end_of_life_criterion"]] if one["end_of_life_criterion"] else _NONE for one in results]),
        ("Capacity (capacitance) at service end", [_percent(_first(one, *_CAPACITY)) for one in results]),
        ("Resistance (ESR) at service end", [_percent(_first(one, *_RESISTANCE)) for one in results]),
        ("Calendar share of the loss", [_percent(one["calendar_share_fraction"]) for one in results]),
        ("Cycle share of the loss", [_percent(one["cyclic_share_fraction"]) for one in results]),
        ("Equivalent full cycles a year", [f"{one['equivalent_full_cycles_per_year']:,.0f}" for one in results]),
        ("Throughput a year", [f"{one['throughput_Ah_per_year']:,.0f} Ah" for one in results]),
        ("Current while driving, rms", [f"{one['rms_current_A']:,.1f} A" for one in results]),
        ("Current while driving, peak", [f"{one['peak_current_A']:,.1f} A" for one in results]),
        ("Heat a year", [f"{one['energy_losses_kWh_per_year']:,.0f} kWh" for one in results]),
        ("Lowest state of charge when new", [_percent(one["lowest_soc"]) for one in results]),
        ("Highest state of charge when new", [_percent(one["highest_soc"]) for one in results]),
        ("Net charge a day leaves open", [f"{shown['open_charge_Ah']:.3g} Ah" for _, shown in sources]),
    ]
    if any(one["small_cycles"] for one in results):
        rows.append(("Life with every small cycle", [_all_cycles(one["small_cycles"]) for one in results]))
    return rows


def _first(result: Mapping[str, Any], *keys: str) -> float | None:
    """The value under the first key there is: a bank's health has other names than a battery's."""
    return next((result[key] for key in keys if key in result), None)


def _all_cycles(small: Mapping[str, Any] | None) -> str:
    if small is None:
        return _NONE
    years = small["life_years_with_all_cycles"]
    return short_life(years)


def _percent(value: float | None) -> str:
    return _NONE if value is None else f"{100.0 * value:.1f} %"
