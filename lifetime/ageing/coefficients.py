"""From the named, unit-carrying numbers of a profile file to the fields of a law, or a list of what is wrong.

Each law is a frozen dataclass whose numeric fields are annotated with the unit its equations expect, so that a number
in another unit is refused instead of used: percent against fraction, days against seconds and one-way against two-way
ampere-hours are the usual ways to get a published law wrong.
"""

from collections.abc import Mapping
from dataclasses import MISSING, dataclass, fields
from itertools import pairwise
from typing import Annotated, Any, Literal, get_args, get_origin, get_type_hints


@dataclass(frozen=True, slots=True)
class Unit:
    """The unit a law's field is expected in.

    Args:
        symbol: As it must stand in the profile file, for example ``s^-0.5``.
        positive: Whether only values above zero make sense.
        rising: Whether a list must rise from value to value.
        like: Name of the list this one must be as long as; empty where there is none.
    """

    symbol: str
    positive: bool = False
    rising: bool = False
    like: str = ""


@dataclass(frozen=True, slots=True)
class Coefficient:
    """One number, or list of numbers, of a law as it stands in a profile file."""

    value: float | tuple[float, ...]
    unit: str


def _declared(law: type) -> dict[str, Any]:
    return {key: hint for key, hint in get_type_hints(law, include_extras=True).items() if not key.startswith("_")}


def declared_units(law: type) -> dict[str, Unit]:
    """The numeric coefficients of a law and the unit each is expected in."""
    return {key: get_args(hint)[1] for key, hint in _declared(law).items() if get_origin(hint) is Annotated}


def optional_coefficients(law: type) -> frozenset[str]:
    """The numeric coefficients that a profile may leave out; each then has its effect off."""
    return frozenset(one.name for one in fields(law) if one.default is not MISSING) & declared_units(law).keys()


def declared_choices(law: type) -> dict[str, tuple[str, ...]]:
    """The named choices of a law and the words each may take."""
    return {key: get_args(hint) for key, hint in _declared(law).items() if get_origin(hint) is Literal}


def _value_fault(key: str, law: type, given: Coefficient, unit: Unit) -> str | None:
    wants_list = get_origin(get_args(_declared(law)[key])[0]) is tuple
    if wants_list != isinstance(given.value, tuple):
        return f"must be a {'list of numbers' if wants_list else 'single number'}, got {given.value}"
    values = given.value if isinstance(given.value, tuple) else (given.value,)
    if unit.positive and min(values) <= 0.0:
        return f"must be above 0, got {given.value}"
    if unit.rising and any(right <= left for left, right in pairwise(values)):
        return f"must rise from value to value, got {given.value}"
    if given.unit != unit.symbol:
        return f'must be in the unit "{unit.symbol}", got "{given.unit}"'
    return None


def _length_fault(given: Coefficient, other: Coefficient | None) -> str | None:
    if other is None or not isinstance(given.value, tuple) or not isinstance(other.value, tuple):
        return None  # said elsewhere
    wanted, got = len(other.value), len(given.value)
    return None if wanted == got else f"must be a list of {wanted} numbers, got {got}"


def coefficient_faults(
    law: type, coefficients: Mapping[str, Coefficient], choices: Mapping[str, str]
) -> dict[str, str]:
    """What is wrong with a law's numbers and choices.

    Args:
        law: The law's class.
        coefficients: Numbers as read from the file.
        choices: Words as read from the file.

    Returns:
        Fault by key, each in the form ``must be ..., got ...``; empty where everything fits.
    """
    faults: dict[str, str] = {}
    units, words, optional = declared_units(law), declared_choices(law), optional_coefficients(law)
    for key, unit in units.items():
        if key not in coefficients and key in optional:
            continue
        if key not in coefficients:
            faults[f"coefficients.{key}"] = f'must be given in the unit "{unit.symbol}", got nothing'
        elif fault := _value_fault(key, law, coefficients[key], unit) or _length_fault(
            coefficients[key], coefficients.get(unit.like)
        ):
            faults[f"coefficients.{key}"] = fault
    for key, allowed in words.items():
        if choices.get(key) not in allowed:
            faults[f"choices.{key}"] = f"must be one of {', '.join(allowed)}, got {choices.get(key, 'nothing')}"
    for key in sorted(coefficients.keys() - units.keys()):
        faults[f"coefficients.{key}"] = f"must be one of {', '.join(units)}, got an unknown key"
    for key in sorted(choices.keys() - words.keys()):
        faults[f"choices.{key}"] = f"must be one of {', '.join(words) or 'nothing'}, got an unknown key"
    return faults
