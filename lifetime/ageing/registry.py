"""Which law a profile's ``[law] name`` means: an explicit table, nothing is discovered."""

from collections.abc import Mapping
from typing import Any, Final

from lifetime.ageing.coefficients import Coefficient, coefficient_faults
from lifetime.ageing.contract import AgeingLaw
from lifetime.ageing.naumann import NaumannLaw
from lifetime.ageing.schimpe import SchimpeLaw
from lifetime.ageing.schmalstieg import SchmalstiegLaw
from lifetime.ageing.ultracapacitor import ArrheniusUltracapacitorLaw, DoublingUltracapacitorLaw
from lifetime.ageing.validity import Validity
from lifetime.ageing.wang import WangLaw
from lifetime.ageing.xu import XuLaw
from lifetime.errors import ProfileError

LAWS: Final[Mapping[str, type]] = {
    "naumann": NaumannLaw,
    "schimpe": SchimpeLaw,
    "schmalstieg": SchmalstiegLaw,
    "xu": XuLaw,
    "wang": WangLaw,
    "ultracapacitor_doubling": DoublingUltracapacitorLaw,
    "ultracapacitor_arrhenius": ArrheniusUltracapacitorLaw,
}
"""Law class by the name used in profile files."""


def law_faults(name: str, coefficients: Mapping[str, Coefficient], choices: Mapping[str, str]) -> dict[str, str]:
    """What is wrong with the ``[law]`` section of a profile.

    Args:
        name: Law name.
        coefficients: Its numbers by key.
        choices: Its words by key.

    Returns:
        Fault by key inside the section, each in the form ``must be ..., got ...``; empty where the law can be built.
    """
    if name not in LAWS:
        return {"name": f'must be one of {", ".join(LAWS)}, got "{name}"'}
    return coefficient_faults(LAWS[name], coefficients, choices)


def build_law(
    name: str, coefficients: Mapping[str, Coefficient], choices: Mapping[str, str], validity: Validity
) -> AgeingLaw:
    """Make a law from the numbers of a profile.

    Args:
        name: Law name, a key of :data:`LAWS`.
        coefficients: Its numbers by key, each in the unit the law expects.
        choices: Its words by key.
        validity: The range it was fitted on.

    Raises:
        ProfileError: The name is unknown or the numbers do not fit; every fault is listed.
    """
    faults = law_faults(name, coefficients, choices)
    if faults:
        raise ProfileError("; ".join(f"law.{key} {fault}" for key, fault in faults.items()))
    values: dict[str, Any] = {key: coefficient.value for key, coefficient in coefficients.items()}
    law: AgeingLaw = LAWS[name](**values, **choices, validity=validity)
    return law
