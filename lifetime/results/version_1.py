"""Version 1 of a stored result, a document and a detail document beside it, laid into today's one document."""

from collections.abc import Callable, Mapping, Sequence
from typing import Any, Final

from lifetime.constants import LIFE_SEARCH_YEARS

Raw = Mapping[str, Any]

GRADES: Final = {"read": "primary source", "reproduced": "secondary source", "from memory": "unverified"}
"""Grades of a parameter set's numbers under their first names."""
COUNTED: Final = {
    "small_cycles": "all",
    "cycle_rate": "throughput_weighted",
    "averaging_s": 0.0,
    "dead_band_c_rate": 0.0,
}
"""How version 1 counted, which its studies could not say: every cycle of the unfiltered current."""
_STATES: Final = {"beyond_horizon": "beyond_search_limit", "cannot_deliver": "requirement_not_met"}
_CRITERIA: Final = {"duty": "requirement"}
_MODES: Final = {
    "battery_to_bank": "battery_to_ultracapacitor",
    "bank_to_battery": "ultracapacitor_to_battery",
}
_ITEMS: Final = {"energy lost": "energy losses"}
_INTERPOLATIONS: Final = {"straight": "linear", "held": "zero_order_hold"}
_SOURCE_KEYS: Final = {
    "life_years": "life_years",
    "calendar_share": "calendar_share_fraction",
    "cycle_share": "cyclic_share_fraction",
    "equivalent_full_cycles_per_year": "equivalent_full_cycles_per_year",
    "throughput_Ah_per_year": "throughput_Ah_per_year",
    "rms_current_A": "rms_current_A",
    "peak_current_A": "peak_current_A",
    "heat_kWh_per_year": "energy_losses_kWh_per_year",
    "lowest_soc": "lowest_soc",
    "highest_soc": "highest_soc",
    "cell": "cell",
    "warnings": "warnings",
    "notes": "notes",
}
_AT_END: Final = {
    "battery": ("capacity_fraction_at_service_end", "resistance_ratio_at_service_end"),
    "ultracapacitor": ("capacitance_fraction_at_service_end", "esr_ratio_at_service_end"),
}


def result_from_pair(document: Raw, detail: Raw, upgrade_study: Callable[[Raw], dict[str, Any]]) -> dict[str, Any]:
    """Today's document out of the pair, as plain data.

    Args:
        document: The result document of version 1.
        detail: The detail document of version 1.
        upgrade_study: Gives a study today's keys.
    """
    study = document["study"]
    given = upgrade_study(detail["study"])
    given["counting"] = {**COUNTED, **given.get("counting", {})}
    uncapped = dict.fromkeys(("battery_longest_life_years", "ultracapacitor_longest_life_years"), LIFE_SEARCH_YEARS)
    given["end_of_life"] = {**uncapped, **given.get("end_of_life", {})}
    pairs = zip(document["strategies"], detail["strategies"], strict=True)
    alone = _cost_of_battery_alone(document["strategies"])
    return {
        "schema_version": 2,
        "study": {
            **study,
            "currency": detail["cost"]["currency"],
            "given": given,
            "service": {"histories_cover": "driving", **detail["service"]},
            "cost": detail["cost"],
            "counting": {
                "smallest_battery_depth_of_discharge": detail["counting"]["smallest_battery_cycle_soc"],
            },
            "end_of_life": detail["limits"],
            "parameter_sets": {
                kind: None if one is None else _parameter_set(one, given[kind]) for kind, one in detail["sets"].items()
            },
            "histories": [_history(one) for one in detail["histories"]],
        },
        "strategies": [_strategy(one, shown, detail, alone) for one, shown in pairs],
        "warnings": document["warnings"],
        "notes": document["notes"],
    }


def _strategy(one: Raw, shown: Raw, detail: Raw, alone: float | None) -> dict[str, Any]:
    sets = detail["sets"]
    return {
        "name": one["name"],
        "rank": one["rank"],
        **{
            kind: None if one[kind] is None else _source(kind, one[kind], shown[kind], sets[kind])
            for kind in ("battery", "ultracapacitor")
        },
        "cost": _cost(one["cost"]),
        "trip": _renamed(one["trip"], {"driving_s_per_day": "driving_duration_s_per_day"}),
        "reference_split": _reference_split(one.get("gain"), alone),
        "day": _day(shown.get("day")),
        "histories": _uses(detail, one["name"]),
        "warnings": one["warnings"],
        "notes": one["notes"],
    }


def _source(kind: str, one: Raw, shown: Raw, parameter_set: Raw) -> dict[str, Any]:
    small = one["small_cycles"]
    cycles = shown["cycle_map"]
    return {
        **{new: one[old] for old, new in _SOURCE_KEYS.items()},
        **{key: one[key] for key in _AT_END[kind]},
        "parameter_grade": GRADES.get(one["parameter_grade"], one["parameter_grade"]),
        "life_state": _STATES.get(one["life_state"], one["life_state"]),
        "end_of_life_criterion": _criterion(one["end_of_life_by"]),
        "criteria": [
            {"criterion": _criterion(limit["limit"]), "years": limit["years"], "detail": limit["detail"]}
            for limit in one["limits"]
        ],
        "open_charge_Ah_per_day": shown["open_charge_Ah"],
        "small_cycles": None if small is None else _renamed(small, {"threshold_soc": "threshold_depth_of_discharge"}),
        "modelled": parameter_set["sees"],
        "not_modelled": one["blind_to"],
        "trajectory": _renamed(shown["course"], {"cycle_loss_fraction": "cyclic_loss_fraction"}),
        "cycle_map": _renamed(cycles, {"depth_edges": "depth_of_discharge_edges"}),
        "time_map": shown["time_map"],
    }


def _cost(cost: Raw) -> dict[str, Any]:
    if cost["net_present"] is None:
        return {"state": "none", "currency": cost["currency"], "reason": cost["reason"]}
    return {
        "state": "known",
        "currency": cost["currency"],
        "net_present_cost": cost["net_present"],
        "equivalent_annual_cost": cost["per_year"],
        "cost_per_km": cost["per_km"],
        "replacements": cost["replacements"],
        "present_value_by_item": {_ITEMS.get(item, item): value for item, value in cost["net_present_by_kind"].items()},
        "cash_flows": [
            {
                "year": one["year"],
                "item": _ITEMS.get(one["kind"], one["kind"]),
                "amount": one["amount"],
                "present_value": one["present_value"],
            }
            for one in cost["payments"]
        ],
    }


def _reference_split(gain: Raw | None, alone: float | None) -> dict[str, Any] | None:
    if gain is None:
        return None
    renamed = _renamed(
        gain,
        {
            "best_rms_W": "reference_rms_W",
            "best_peak_W": "reference_peak_W",
            "alone_net_present": "alone_net_present_cost",
            "best_life_years": "reference_life_years",
            "best_net_present": "reference_net_present_cost",
            "wear_share": "reached_capacity_loss_fraction",
            "cost_share": "reached_cost_saving_fraction",
        },
    )
    # The first records do not have this figure; the study's own strategy without a bank gives it.
    unknown = "this record was made before the reason was kept"
    return {
        "alone_net_present_cost": alone,
        "alone_no_cost_reason": unknown if gain.get("alone_net_present", alone) is None else None,
        "reference_no_cost_reason": unknown if renamed["reference_net_present_cost"] is None else None,
        **renamed,
    }


def _cost_of_battery_alone(strategies: Sequence[Raw]) -> float | None:
    return next((one["cost"]["net_present"] for one in strategies if one["ultracapacitor"] is None), None)


def _day(day: Raw | None) -> dict[str, Any] | None:
    if day is None:
        return None
    losses = {
        key: None if day[old] is None else _renamed(day[old], {"cycle_fraction": "cyclic_fraction"})
        for key, old in (
            ("battery_capacity_loss", "battery_wear"),
            ("ultracapacitor_capacity_loss", "ultracapacitor_wear"),
        )
    }
    return {
        "drives": day["passes"],
        "edges_s": day["edges_s"],
        "demand_W": day["demand_W"],
        "battery_W": day["battery_W"],
        "ultracapacitor_W": day["bank_W"],
        **losses,
        "modes": [_mode(row) for row in day["modes"]],
        "mode_changes": day["mode_changes"],
        "transfer_kWh": day["transfer_kWh"],
    }


def _mode(row: Raw) -> dict[str, Any]:
    renamed = _renamed(
        row,
        {
            "part": "source",
            "time_s": "duration_s",
            "rms_A": "rms_current_A",
            "loss_kWh": "energy_losses_kWh",
            "wear_share": "capacity_loss_share_fraction",
        },
    )
    return {**renamed, "mode": _MODES.get(row["mode"], row["mode"])}


def _parameter_set(one: Raw, section: Raw) -> dict[str, Any]:
    thermal = section.get("thermal")
    return {
        **_renamed(one, {"sees": "modelled", "blind_to": "not_modelled"}),
        "grade": GRADES.get(one["grade"], one["grade"]),
        "provenance": [{**entry, "grade": GRADES.get(entry["grade"], entry["grade"])} for entry in one["provenance"]],
        "pack": {**one["pack"], "thermal": None if thermal is None else {"hot_spot_K": 0.0, **thermal}},
    }


def _history(one: Raw) -> dict[str, Any]:
    how = one["interpolation"]
    return {**one, "interpolation": _INTERPOLATIONS.get(how, how)}


def _uses(detail: Raw, name: str) -> list[dict[str, Any]]:
    """The histories that a strategy read: of those with its file, the one whose columns are the same."""
    strategy = next(one for one in detail["study"]["strategy"] if one["name"] == name)
    found = []
    for role in ("demand", "battery", "ultracapacitor"):
        if role in strategy:
            given = strategy[role]
            place = next(at for at, one in enumerate(detail["histories"]) if _is_meant(one, given))
            found.append({"role": role, "position": place})
    return found


def _is_meant(one: Raw, given: Raw) -> bool:
    columns = {key: value for key, value in given.items() if key != "file"}
    return bool(one["file"] == given["file"]) and all(
        one["columns"].get(key) == value for key, value in columns.items()
    )


def _criterion(name: str | None) -> str | None:
    return None if name is None else _CRITERIA.get(name, name)


def _renamed(raw: Raw, names: Mapping[str, str]) -> dict[str, Any]:
    return {names.get(key, key): value for key, value in raw.items()}
