"""The only place that knows what older versions wrote: results, studies and parameter sets on record.

Version 1 of a result was a pair, ``{"document": ..., "detail": ...}``; every later one names its ``schema_version``.
"""

import re
from collections.abc import Mapping
from typing import Any, Final

from lifetime.constants import LIFE_SEARCH_YEARS
from lifetime.errors import InputError
from lifetime.results.document import SCHEMA_VERSION, ResultDocument
from lifetime.results.version_1 import GRADES, result_from_pair

_STUDY_KEYS: Final = {
    "bank_target_voltage_V": "ultracapacitor_setpoint_V",
    "bank_pull_time_constant_s": "ultracapacitor_setpoint_time_constant_s",
    "pull_time_constant_s": "setpoint_time_constant_s",
    "bank_loss": "ultracapacitor_loss",
    "bank_voltage_V": "ultracapacitor_voltage_V",
    "battery_share": "battery_fraction",
    "recovered_share": "recovered_fraction",
    "rotating_mass_share": "rotating_mass_fraction",
    "recuperation_share": "recuperation_fraction",
    "smallest_battery_cycle_soc": "smallest_battery_depth_of_discharge",
}
_GRADE: Final = re.compile(r"(\bgrade\s*=\s*)[\"'](" + "|".join(GRADES) + r")[\"']")
_WANG_CELL: Final = re.compile(r"^reference_discharge_Ah_per_fec(\s*=.*)$", re.MULTILINE)
_STUDY_WORDS: Final[Mapping[str, Mapping[str | bool, str]]] = {
    "interpolation": {"straight": "linear", "held": "zero_order_hold"},
    "residual_value": {True: "straight_line", False: "none"},
}


def upgrade(raw: Mapping[str, Any]) -> ResultDocument:
    """A stored result of any version as today's document; its numbers stay as they were.

    Args:
        raw: The stored data.

    Raises:
        InputError: A newer program wrote it.
    """
    if "schema_version" not in raw:
        raw = result_from_pair(raw["document"], raw["detail"], upgrade_study)
    if raw["schema_version"] != SCHEMA_VERSION:
        raise InputError(
            f"The stored result has schema version {raw['schema_version']}; this program reads up to version "
            f"{SCHEMA_VERSION}. Open it with the program that stored it, or a newer one."
        )
    study = raw["study"]
    renamed = {"cost": _upgraded(study["cost"]), "given": upgrade_study(study["given"])}
    return ResultDocument.model_validate({**raw, "study": {**study, **renamed}})


def upgrade_study(raw: Mapping[str, Any]) -> dict[str, Any]:
    """A stored study of any version with today's keys and words; its values stay as they were.

    Args:
        raw: The study as plain data, checked or not.
    """
    return {key: _upgraded(value) for key, value in raw.items()}


def study_as_assessed(study: Mapping[str, Any], result: ResultDocument) -> dict[str, Any]:
    """The study of a stored result with what it left to defaults that have changed since, as the result was made.

    Args:
        study: The study as plain data, with today's keys.
        result: The stored result.
    """
    counted = result.study.counting.model_dump()
    told = result.study.end_of_life
    longest = {key: getattr(told, key) for key in ("battery_longest_life_years", "ultracapacitor_longest_life_years")}
    ended = {key: LIFE_SEARCH_YEARS if years is None else years for key, years in longest.items()}
    growth = result.study.resistance_growth
    grown = {
        "resistance_per_calendar_loss": 0.0 if growth is None else growth.per_calendar_loss,
        "resistance_per_cyclic_loss": 0.0 if growth is None else growth.per_cyclic_loss,
    }
    return {
        **study,
        "battery": {**grown, **study.get("battery", {})},
        "counting": {**counted, **study.get("counting", {})},
        "end_of_life": {**ended, **study.get("end_of_life", {})},
    }


def upgrade_parameter_set(text: str) -> str:
    """A stored parameter set of any version with today's grades and coefficients; its numbers stay as they were.

    Args:
        text: The TOML text as it was stored.
    """
    graded = _GRADE.sub(lambda found: f'{found[1]}"{GRADES[found[2]]}"', text)
    # A rate was counted in the cell's own capacity before the model's base was known.
    return graded if "c_rate_base_Ah" in graded else _WANG_CELL.sub(r"\g<0>\nc_rate_base_Ah\g<1>", graded)


def _upgraded(value: Any) -> Any:
    if isinstance(value, Mapping):
        return {_STUDY_KEYS.get(key, key): _word(key, _upgraded(item)) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_upgraded(item) for item in value]
    return value


def _word(key: str, value: Any) -> Any:
    """A value, by its new name where it was renamed."""
    return _STUDY_WORDS.get(key, {}).get(value, value) if isinstance(value, str | bool) else value
