"""What the command ``sweep`` does: plan, check, run, sum up."""

import sys
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING

from lifetime.cli.terminal import console, print_json, progress
from lifetime.errors import InputError

if TYPE_CHECKING:
    from lifetime.sweep.axis import Axis
    from lifetime.sweep.plan import Method, Plan

_SHOWN_STEPS = 8


@dataclass(frozen=True, slots=True)
class SweepRequest:
    """What was asked for at the command line.

    Args:
        study: The study file.
        vary: Axes named on the command line.
        out: Folder for the results, or None for one next to the study.
        method: grid, latin or sobol.
        samples: How many to draw.
        seed: Of the random numbers that a sample is drawn with.
        workers: Processes.
        scheduler: Address of a Dask scheduler, or None.
        max_candidates: Largest number of candidates allowed.
    """

    study: Path
    vary: list[str]
    out: Path | None
    method: str
    samples: int
    seed: int
    workers: int
    scheduler: str | None
    max_candidates: int


def run_sweep(request: SweepRequest) -> "tuple[Plan, Path]":
    """Run a sweep.

    Args:
        request: What was asked for.

    Returns:
        The plan, and the Parquet file with its rows.

    Raises:
        InputError: The study, an axis or an option cannot be used.
    """
    from lifetime.sweep.candidate import folder_of  # noqa: PLC0415
    from lifetime.sweep.plan import check_plan  # noqa: PLC0415
    from lifetime.sweep.run import executor, run_plan  # noqa: PLC0415

    plan = _plan(request)
    base = request.study.parent
    check_plan(plan, folder_of(str(base.absolute())))
    folder = request.out or base / f"{request.study.stem}.sweep"
    _say_uneven(plan.axes)
    try:
        with (
            executor(request.workers, request.scheduler) as pool,
            progress("Assessing", len(plan.points)) as advance,
        ):
            return plan, run_plan(plan, base, folder, pool, advance)
    except KeyboardInterrupt:
        sys.stderr.write(f"Stopped. Finished candidates are kept in {folder}; the same command continues from there.\n")
        raise


def show_sweep(plan: "Plan", path: Path, *, as_json: bool) -> None:
    """Print what a sweep shows.

    Args:
        plan: What was run.
        path: The Parquet file with its rows.
        as_json: Print one JSON document.
    """
    from lifetime.sweep.summary import summarise  # noqa: PLC0415

    summary = summarise(path, plan.axes)
    if as_json:
        from lifetime.sweep.document import summary_document  # noqa: PLC0415

        print_json({"file": str(path), **summary_document(summary, plan.data)})
    else:
        from lifetime.cli.sweep_summary import print_summary  # noqa: PLC0415

        print_summary(summary, f"all rows are in {path}", plan.data, console())


def _say_uneven(axes: "tuple[Axis, ...]") -> None:
    """Counts are rounded to whole numbers; say where the steps come out uneven."""
    for axis in axes:
        steps = {later - earlier for earlier, later in pairwise(axis.values)}
        if axis.whole and not axis.listed and len(steps) > 1:
            shown = ", ".join(f"{value:g}" for value in axis.values[:_SHOWN_STEPS])
            more = f" and {len(axis.values) - _SHOWN_STEPS} more" if len(axis.values) > _SHOWN_STEPS else ""
            sys.stderr.write(f"{axis.name} must be whole, so its steps are uneven: {shown}{more}.\n")


def _plan(request: SweepRequest) -> "Plan":
    from lifetime.study.load import read_toml  # noqa: PLC0415
    from lifetime.sweep.axes import find_axes, named_axis  # noqa: PLC0415
    from lifetime.sweep.plan import make_plan  # noqa: PLC0415

    methods: dict[str, Method] = {"grid": "grid", "latin": "latin", "sobol": "sobol"}
    if request.method not in methods:
        raise InputError(f'--method must be grid, latin or sobol, got "{request.method}".')
    if request.workers < 1:
        raise InputError(f"--workers must be at least 1, got {request.workers}.")
    data = read_toml(request.study)
    axes = [*find_axes(data, str(request.study)), *(named_axis(text, data) for text in request.vary)]
    return make_plan(
        data,
        str(request.study),
        axes,
        method=methods[request.method],
        samples=request.samples,
        seed=request.seed,
        max_candidates=request.max_candidates,
    )
