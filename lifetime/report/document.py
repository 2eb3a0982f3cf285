"""An assessment as one strict JSON document: no NaN, no infinity, null where there is no number, the reason beside."""

import json
from collections.abc import Iterable
from dataclasses import asdict
from typing import Any

from lifetime.costing.life_cycle import LifeCycleCost, NoCost
from lifetime.notices import Notice
from lifetime.results.records import Assessment, Gain, SmallCycles, SourceResult, StrategyResult


def to_json(assessment: Assessment) -> str:
    """The document as text, keys in a fixed order."""
    return json.dumps(document(assessment), indent=2, allow_nan=False, ensure_ascii=False)


def document(assessment: Assessment) -> dict[str, Any]:
    """The assessment as plain data.

    Args:
        assessment: What ``assess`` returned.
    """
    return {
        "study": {
            "id": assessment.id,
            "title": assessment.title,
            "program_version": assessment.program_version,
            "service_years": assessment.service_years,
            "inputs": [{"name": name, "sha256": sha256} for name, sha256 in sorted(assessment.inputs.items())],
        },
        "strategies": [_strategy(assessment, one) for one in assessment.strategies],
        "warnings": _messages(assessment.notices, "warning"),
        "notes": _messages(assessment.notices, "note"),
    }


def _strategy(assessment: Assessment, one: StrategyResult) -> dict[str, Any]:
    return {
        "name": one.name,
        "rank": one.rank,
        "battery": _source(one.battery, "capacity_fraction_at_service_end", "resistance_ratio_at_service_end"),
        "ultracapacitor": None
        if one.ultracapacitor is None
        else _source(one.ultracapacitor, "capacitance_fraction_at_service_end", "esr_ratio_at_service_end"),
        "cost": _cost(assessment.currency, one.cost, has_bank=one.ultracapacitor is not None),
        "trip": {
            "energy_kWh_per_day": one.trip.energy_kWh,
            "driving_s_per_day": one.trip.duration_s,
            "net_battery_charge_Ah_per_day": one.trip.net_battery_charge_Ah,
            "net_ultracapacitor_energy_kWh_per_day": one.trip.net_ultracapacitor_energy_kWh,
        },
        "gain": _gain(one.gain),
        "warnings": _messages(one.notices, "warning"),
        "notes": _messages(one.notices, "note"),
    }


def _source(source: SourceResult, capacity_key: str, resistance_key: str) -> dict[str, Any]:
    return {
        "cell": source.cell,
        "parameter_grade": source.grade,
        "life_years": source.life_years,
        "life_state": source.life_state,
        "end_of_life_by": source.end_of_life_by,
        "limits": [{"limit": one.limit, "years": one.years, "detail": one.detail} for one in source.crossings],
        capacity_key: source.capacity_fraction_at_service_end,
        resistance_key: source.resistance_ratio_at_service_end,
        "calendar_share": source.calendar_share,
        "cycle_share": source.cycle_share,
        "equivalent_full_cycles_per_year": source.equivalent_full_cycles_per_year,
        "throughput_Ah_per_year": source.throughput_Ah_per_year,
        "rms_current_A": source.rms_current_A,
        "peak_current_A": source.peak_current_A,
        "heat_kWh_per_year": source.heat_kWh_per_year,
        "lowest_soc": source.lowest_soc,
        "highest_soc": source.highest_soc,
        "small_cycles": _small_cycles(source.small_cycles),
        "blind_to": list(source.blind_to),
        "warnings": _messages(source.notices, "warning"),
        "notes": _messages(source.notices, "note"),
    }


def _gain(gain: Gain | None) -> dict[str, float | str | None] | None:
    return None if gain is None else asdict(gain)


def _small_cycles(small: SmallCycles | None) -> dict[str, Any] | None:
    if small is None:
        return None
    return {
        "threshold_soc": small.threshold_soc,
        "removed_cycles_per_year": small.removed_cycles_per_year,
        "removed_capacity_loss_fraction_at_service_end": small.removed_loss_fraction,
        "life_years_with_all_cycles": small.life_years_with_all,
    }


def _cost(currency: str, cost: LifeCycleCost | NoCost, *, has_bank: bool) -> dict[str, Any]:
    if isinstance(cost, NoCost):
        return {
            "currency": currency,
            "net_present": None,
            "per_year": None,
            "per_km": None,
            "replacements": {"battery": None, "ultracapacitor": None},
            "reason": cost.reason,
        }
    return {
        "currency": currency,
        "net_present": cost.net_present,
        "per_year": cost.per_year,
        "per_km": cost.per_km,
        "replacements": {
            "battery": cost.replacements["battery"],
            "ultracapacitor": cost.replacements.get("ultracapacitor") if has_bank else None,
        },
        "net_present_by_kind": dict(cost.net_present_by_kind),
        "payments": [
            {
                "year": payment.year,
                "kind": payment.kind,
                "amount": payment.amount,
                "present_value": payment.present_value,
            }
            for payment in cost.payments
        ],
    }


def _messages(notices: Iterable[Notice], severity: str) -> list[dict[str, str]]:
    return [{"code": one.code, "message": one.message} for one in notices if one.severity == severity]
