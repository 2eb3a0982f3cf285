"""What is said about the surroundings: how far the spread of the hours around their monthly means moves a life."""

from dataclasses import dataclass

from lifetime.costing.life_cycle import SOURCE_NAMES
from lifetime.notices import Notice
from lifetime.packs.profile import Kind
from lifetime.text import percent, short_life

_SAME: float = 5e-4
"""Relative difference that is not worth a word."""


@dataclass(frozen=True, slots=True)
class LifeInClimate:
    """A source's life in one description of the climate.

    Args:
        years: Its life [years]; None beyond the search.
        lost_fraction: Its capacity loss at the end of service [0..1].
    """

    years: float | None
    lost_fraction: float


def hourly_climate(kind: Kind, hourly: LifeInClimate, means: LifeInClimate) -> Notice:
    """Say how far the hours of a weather file move a source's life against their monthly means.

    Args:
        kind: Which source.
        hourly: Its life by the hours.
        means: Its life by the monthly means.
    """
    name = SOURCE_NAMES[kind]
    if hourly.years and means.years:
        moved = hourly.years / means.years - 1.0
        side = "longer" if moved > 0.0 else "shorter"
        what, now, before = "life", short_life(hourly.years), short_life(means.years)
    else:
        moved = hourly.lost_fraction / means.lost_fraction - 1.0 if means.lost_fraction > 0.0 else 0.0
        side = "larger" if moved > 0.0 else "smaller"
        what, now, before = "capacity loss", percent(hourly.lost_fraction), percent(means.lost_fraction)
    effect = "as large as" if abs(moved) < _SAME else f"{percent(abs(moved))} {side} than"
    text = f"Hourly climate: the {what} of the {name} is {effect} by the monthly means alone, {now} against {before}."
    return Notice("hourly_climate", text, "note")
