"""Three-phase sets of a machine's winding: currents that sum to zero and are 120 degrees apart, with their voltages."""

import difflib
import itertools
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from lifetime.checks import FloatArray

Triple = tuple[int, int, int]

_ZERO_SUM: Final = 0.1
"""rms of the sum over that of a phase, below which three phases sum to zero."""
_PHASE_SHIFT: Final = 0.15
"""How far the correlation of two phases may be from cos 120 degrees = -0.5."""
_ZERO_MEAN: Final = 0.1
_MOST_COLUMNS: Final = 24


@dataclass(frozen=True, slots=True)
class WindingSet:
    """One winding set of a machine, fed by one inverter.

    Args:
        currents: Positions of the three phase currents.
        voltages: Positions of the three phase voltages in the same order, or None where none belong to them.
    """

    currents: Triple
    voltages: Triple | None


def winding_sets(
    currents: Mapping[int, FloatArray], voltages: Mapping[int, FloatArray], names: Sequence[str]
) -> tuple[WindingSet, ...]:
    """Find the winding sets among columns.

    Args:
        currents: First rows of the columns that may be currents, by position, all of one length.
        voltages: The same of those that may be voltages.
        names: All column names.
    """
    of_currents = _triples(currents, names, must_balance=True)
    of_voltages = _triples(voltages, names, must_balance=False)
    sets = []
    for triple in of_currents:
        fitting = max(of_voltages, key=lambda other: _likeness(triple, other, names), default=None)
        if fitting is not None:
            of_voltages.remove(fitting)
            if are_between_phases([names[at] for at in fitting]):
                fitting = None  # they too sum to zero, but their products with the currents are not the power
        sets.append(WindingSet(triple, fitting))
    return tuple(sets)


def _triples(columns: Mapping[int, FloatArray], names: Sequence[str], *, must_balance: bool) -> list[Triple]:
    """Disjoint sets of three, those whose names differ in one place before others, then neighbours first."""
    waves = {at: values for at, values in columns.items() if _has_zero_mean(values)}
    positions = list(waves)[:_MOST_COLUMNS]
    if len(positions) < 3:
        return []
    together = np.array([waves[at] for at in positions])
    together = together[:, np.isfinite(together).all(axis=0)]
    if together.shape[1] < 3:
        return []
    gram = together @ together.T / together.shape[1]
    found = []
    for rows in itertools.combinations(range(len(positions)), 3):
        triple = (positions[rows[0]], positions[rows[1]], positions[rows[2]])
        alike = differ_in_one_place([names[at] for at in triple])
        balanced = _is_balanced(gram[np.ix_(rows, rows)])
        # The phase voltages of an inverter contain its switching in common, so that they need not sum to zero.
        if balanced or (alike and not must_balance and _are_equally_large(gram[np.ix_(rows, rows)])):
            found.append((not alike, triple[2] - triple[0], triple))
    chosen: list[Triple] = []
    for _, _, triple in sorted(found):
        if not any(at in other for other in chosen for at in triple):
            chosen.append(triple)
    return sorted(chosen)


def _has_zero_mean(values: FloatArray) -> bool:
    known = values[np.isfinite(values)]
    if known.size < 3 or known.max() <= 0.0 or known.min() >= 0.0:
        return False
    rms = float(np.sqrt(np.mean(known**2)))
    return np.isfinite(rms) and abs(float(known.mean())) < _ZERO_MEAN * rms


def _are_equally_large(gram: FloatArray) -> bool:
    squares = np.diag(gram)
    return bool(squares.max() < 2.0 * squares.min())


def _is_balanced(gram: FloatArray) -> bool:
    squares = np.diag(gram)
    if not _are_equally_large(gram) or float(gram.sum()) > _ZERO_SUM**2 * float(squares.mean()):
        return False
    correlations = (gram / np.sqrt(np.outer(squares, squares)))[np.triu_indices(3, 1)]
    return bool(np.all(np.abs(correlations + 0.5) < _PHASE_SHIFT))


def differ_in_one_place(names: Sequence[str]) -> bool:
    """Tell whether names are the same but for one short piece, as "i_u [A]", "i_v [A]" and "i_w [A]" are.

    Args:
        names: Two or more names.
    """
    if len({len(name) for name in names}) > 1 or len(set(names)) < len(names):
        return False
    differing = [at for at in range(len(names[0])) if len({name[at] for name in names}) > 1]
    return differing[-1] - differing[0] < 2


def are_between_phases(names: Sequence[str]) -> bool:
    """Tell whether three voltages are named as between two phases, as "u_ab", "u_bc" and "u_ca" are.

    Args:
        names: Their names.
    """
    if not differ_in_one_place(names):
        return False
    differing = [at for at in range(len(names[0])) if len({name[at] for name in names}) > 1]
    pieces = [name[differing[0] : differing[-1] + 1].lower() for name in names]
    letters = "".join(pieces)
    return len(pieces[0]) == 2 and len(set(letters)) == 3 and all(letters.count(one) == 2 for one in letters)


def _likeness(triple: Triple, other: Triple, names: Sequence[str]) -> tuple[float, int]:
    """How much the names of two sets are alike; among equals the earlier one."""
    pairs = zip(triple, other, strict=True)
    ratios = [difflib.SequenceMatcher(None, names[a].lower(), names[b].lower()).ratio() for a, b in pairs]
    return round(sum(ratios), 6), -other[0]
