"""What a life is worth as a number where most of the duty is outside the range an ageing model was fitted on."""

from typing import Final

from lifetime.ageing.contract import AgeingLaw, Stress
from lifetime.results.view import LifeBound

MOSTLY_INSIDE: Final = 0.5
"""Share of the duty inside the fitted range below which a life is a bound (own rule)."""
_UNDERSTATED: Final = frozenset(
    {"c_rate_held", "charge_c_rate_held", "cold_high_soc_charge_capped", "c_rate_above_range"}
)
_OVERSTATED: Final = frozenset({"calendar_temperature_held"})
"""Codes of the notices of a model that is held, by what that does to ageing."""


def life_bound(model: AgeingLaw, stress: Stress) -> LifeBound:
    """Which way the life errs.

    Args:
        model: The ageing model.
        stress: Stress at the beginning of life, mostly outside its range.
    """
    codes = {notice.code for notice in model.range_notices(stress)}
    understated, overstated = bool(codes & _UNDERSTATED), bool(codes & _OVERSTATED)
    if understated == overstated:
        return "about"
    return "at_most" if understated else "at_least"
