"""The only place that knows what older versions wrote: results, studies and parameter sets on record.

Version 1 of a result was a pair, ``{"document": ..., "detail": ...}``; every later one names its ``schema_version``.
"""

import re
from collections.abc import Iterator, Mapping
from functools import cache
from typing import Any, Final

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
_STUDY_WORDS: Final = {"interpolation": {"straight": "linear", "held": "zero_order_hold"}}


def upgrade(raw: Mapping[str, Any]) -> ResultDocument:
    """A stored result of any version as today's document; its numbers stay as they were.

    Args:
        raw: The stored data.

    Raises:
        InputError: A newer program wrote it.
    """
    if "schema_version" not in raw:
        return ResultDocument.model_validate(result_from_pair(raw["document"], raw["detail"], upgrade_study))
    if raw["schema_version"] != SCHEMA_VERSION:
        raise InputError(
            f"The stored result has schema version {raw['schema_version']}; this program reads up to version "
            f"{SCHEMA_VERSION}. Open it with the program that stored it, or a newer one."
        )
    return ResultDocument.model_validate(raw)


def upgrade_study(raw: Mapping[str, Any]) -> dict[str, Any]:
    """A stored study of any version with today's keys and words; its values stay as they were.

    Args:
        raw: The study as plain data, checked or not.
    """
    known = _known_words()
    keys = {old: new for old, new in _STUDY_KEYS.items() if new in known}
    return {key: _upgraded(value, keys, known) for key, value in raw.items()}


def upgrade_parameter_set(text: str) -> str:
    """A stored parameter set of any version with today's grades; its numbers stay as they were.

    Args:
        text: The TOML text as it was stored.
    """
    return _GRADE.sub(lambda found: f'{found[1]}"{GRADES[found[2]]}"', text)


def _upgraded(value: Any, keys: Mapping[str, str], known: frozenset[str]) -> Any:
    if isinstance(value, Mapping):
        return {keys.get(key, key): _word(key, _upgraded(item, keys, known), known) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_upgraded(item, keys, known) for item in value]
    return value


def _word(key: str, value: Any, known: frozenset[str]) -> Any:
    """A value that was renamed; where today's schema still has the old word, it stays."""
    new = _STUDY_WORDS.get(key, {}).get(value) if isinstance(value, str) else None
    return value if new is None or f"{key}={new}" not in known else new


@cache
def _known_words() -> frozenset[str]:
    """Every key of today's study, and every key with each fixed word that it may have."""
    from lifetime.study.schema import Study  # noqa: PLC0415 - only old studies need it

    return frozenset(_words(Study.model_json_schema()))


def _words(schema: Any) -> Iterator[str]:
    if isinstance(schema, Mapping):
        for key, item in schema.get("properties", {}).items():
            yield key
            yield from (f"{key}={word}" for one in (item, *item.get("anyOf", ())) for word in one.get("enum", ()))
        for item in schema.values():
            yield from _words(item)
    elif isinstance(schema, list):
        for item in schema:
            yield from _words(item)
