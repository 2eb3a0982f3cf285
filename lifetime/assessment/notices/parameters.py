"""What is said about a parameter set: how sure its numbers are, and what its ageing model does not respond to."""

from typing import Final, get_args

from lifetime.ageing.contract import AgeingLaw, Sight
from lifetime.notices import Notice
from lifetime.packs.cell import Cell
from lifetime.packs.profile import Grade

_STRESSES: dict[Sight, str] = {
    "c_rate": "current amplitude (C-rate)",
    "charge_c_rate": "charging rate",
    "depth": "cycle depth",
    "cycle_mean_soc": "mean state of charge of cycles",
    "temperature": "temperature at rest and in use",
    "cycle_temperature": "temperature while cycling",
    "soc": "state of charge over time",
}

_BEST_GRADE: Final[Grade] = get_args(Grade)[0]


def not_modelled(model: AgeingLaw) -> tuple[str, ...]:
    """The stresses an ageing model does not respond to; a strategy that only changes these cannot gain under it.

    Args:
        model: The ageing model.
    """
    # The discharge rate is a current amplitude, too.
    seen = model.sees | ({"c_rate"} if "discharge_c_rate" in model.sees else set())
    return tuple(words for stress, words in _STRESSES.items() if stress not in seen)


def grade_notices(cell: Cell) -> list[Notice]:
    """Note how sure the parameter set's numbers are, unless all have the best grade.

    Args:
        cell: The parameter set.
    """
    if cell.lowest_grade == _BEST_GRADE:
        return []
    weakest = [entry.key for entry in cell.provenance if entry.grade == cell.lowest_grade]
    return [
        Notice(
            "parameter_grade",
            f"Of the {len(cell.provenance)} numbers of {cell.id}, {len(weakest)} have the grade "
            f'"{cell.lowest_grade}", its weakest. The report lists the source of each.',
            "note",
        )
    ]
