"""Which candidates a sweep runs: a grid, a Latin hypercube or a Sobol sequence over its axes."""

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from math import prod
from typing import Any, Final, Literal

from lifetime.errors import Fault, InputError, StudyError
from lifetime.study.load import Shelf, resolve_study
from lifetime.sweep.axes import is_price, with_values
from lifetime.sweep.axis import Axis

Method = Literal["grid", "latin", "sobol"]
MAX_CANDIDATES: Final = 20_000
"""More candidates are refused unless they are allowed explicitly."""


@dataclass(frozen=True, slots=True)
class Plan:
    """Everything that decides a sweep's candidates.

    Args:
        data: The study as plain data, ranges in it or not.
        name: How messages call it.
        axes: The axes.
        points: One tuple of values a candidate.
    """

    data: Mapping[str, Any]
    name: str
    axes: tuple[Axis, ...]
    points: tuple[tuple[float, ...], ...]

    @property
    def key(self) -> str:
        """Hash of the plan: two plans with one key run the same candidates."""
        axes = [[axis.name, list(axis.values), axis.scale, axis.whole] for axis in self.axes]
        text = json.dumps([self.data, axes, self.points], sort_keys=True, default=str)
        return hashlib.sha256(text.encode()).hexdigest()[:32]


def make_plan(
    data: Mapping[str, Any],
    name: str,
    axes: Sequence[Axis],
    *,
    method: Method = "grid",
    samples: int = 0,
    seed: int = 0,
    max_candidates: int = MAX_CANDIDATES,
) -> Plan:
    """Lay out the candidates, and refuse too many before anything runs.

    Args:
        data: The study as plain data.
        name: How messages call it.
        axes: What is varied, at least one.
        method: Every combination, or a sample drawn over the axes' bounds.
        samples: How many to draw; for a Sobol sequence best a power of two.
        seed: Of the random numbers that a sample is drawn with.
        max_candidates: Largest number of candidates allowed.

    Raises:
        StudyError: Nothing is varied, or there are too many candidates; the message says how many.
    """
    if not axes:
        raise StudyError(
            name,
            [Fault("sweep", "nothing is varied. Put a range in place of a number, { from = 1, to = 9, steps = 5 }, "
                            "or name one with --vary.")],
        )  # fmt: skip
    names = [axis.name for axis in axes]
    twice = sorted({key for key in names if names.count(key) > 1})
    if twice:
        raise StudyError(name, [Fault(key, "is varied more than once. Leave all but one out.") for key in twice])
    if method == "grid" and samples:
        text = "a grid runs every combination of its steps. Leave --samples out, or draw with --method latin or sobol."
        raise StudyError(name, [Fault("sweep", text)])
    count = prod(len(axis.values) for axis in axes) if method == "grid" else samples
    if count < 1:
        raise StudyError(name, [Fault("sweep", "no candidates: give --samples a number of at least 1.")])
    if count > max_candidates:
        text = (
            f"would run {count:,} candidates; {max_candidates:,} are allowed. Take fewer steps, draw samples, or raise "
            "--max-candidates."
        )
        raise StudyError(name, [Fault("sweep", text)])
    # Prices vary fastest: neighbours that differ in nothing else share their lives, and are only priced anew.
    axes = sorted(axes, key=lambda axis: is_price(axis.path))
    points = product(*(axis.values for axis in axes)) if method == "grid" else _drawn(axes, method, count, seed)
    return Plan(data, name, tuple(axes), tuple(points))


def check_plan(plan: Plan, shelf: Shelf) -> None:
    """Check the first candidate and both ends of every axis, so that a bad key is refused before anything runs.

    Args:
        plan: The plan.
        shelf: Where the things it names are found.

    Raises:
        StudyError: A candidate is no study; all faults of the first such one.
    """
    first = list(plan.points[0])
    looked_at = [first]
    for at, axis in enumerate(plan.axes):
        looked_at += [[*first[:at], end, *first[at + 1 :]] for end in (min(axis.values), max(axis.values))]
    for values in looked_at:
        try:
            resolve_study(with_values(plan.data, plan.axes, values), plan.name, shelf)
        except StudyError as error:
            shown = ", ".join(f"{axis.name} = {value:g}" for axis, value in zip(plan.axes, values, strict=True))
            raise StudyError(f"{plan.name} with {shown}", error.faults) from None
        except (TypeError, KeyError, IndexError) as error:
            raise InputError(f"{plan.name}: a varied key does not fit the study ({error}).") from None


def _drawn(axes: Sequence[Axis], method: Method, count: int, seed: int) -> list[tuple[float, ...]]:
    from scipy.stats import qmc  # noqa: PLC0415 - slow import

    if method == "latin":
        fractions = qmc.LatinHypercube(len(axes), rng=seed).random(count)
    else:
        sampler = qmc.Sobol(len(axes), rng=seed)
        power = max(count - 1, 0).bit_length()
        fractions = sampler.random_base2(power)[:count]
    return [tuple(axis.at(fraction) for axis, fraction in zip(axes, row, strict=True)) for row in fractions.tolist()]
