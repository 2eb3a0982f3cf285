"""The command ``sweep``: plan, check, run, sum up."""

import sys
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from lifetime.cli.options import AsJson, VariedStudy, Vary
from lifetime.cli.recorders import recorders
from lifetime.cli.terminal import console, exit_codes, print_json, progress
from lifetime.errors import InputError

if TYPE_CHECKING:
    from lifetime.sweep.axes import Axis
    from lifetime.sweep.plan import Method, Plan

_SHOWN_STEPS = 8


@dataclass(frozen=True, slots=True)
class SweepRequest:
    """What was asked for at the command line.

    Args:
        study: The study file.
        vary: Axes named beside it.
        out: Folder for the results, or None for one beside the study.
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


def sweep(
    context: typer.Context,
    study: VariedStudy,
    vary: Vary = None,
    out: Annotated[
        Path | None,
        typer.Option(
            "--out", metavar="FOLDER", help="Folder for the results; if left out, STUDY.sweep next to the study."
        ),
    ] = None,
    method: Annotated[
        str,
        typer.Option(
            "--method",
            metavar="METHOD",
            help="Which candidates are assessed: all of the grid, a latin hypercube sample, or a sobol sequence "
            "(grid, latin or sobol).",
        ),
    ] = "grid",
    samples: Annotated[
        int, typer.Option("--samples", metavar="NUMBER", help="Number of candidates to draw with latin or sobol.")
    ] = 0,
    seed: Annotated[
        int,
        typer.Option(
            "--seed", metavar="NUMBER", help="Seed of the random numbers: the same seed draws the same candidates."
        ),
    ] = 0,
    workers: Annotated[
        int, typer.Option("--workers", metavar="NUMBER", help="Number of processes on this machine.")
    ] = 1,
    scheduler: Annotated[
        str | None,
        typer.Option("--scheduler", metavar="tcp://HOST:PORT", help="Dask scheduler that runs the sweep instead."),
    ] = None,
    max_candidates: Annotated[
        int,
        typer.Option(
            "--max-candidates", metavar="NUMBER", help="Largest number of candidates that may run; more are refused."
        ),
    ] = 20_000,
    as_json: AsJson = False,
    no_record: Annotated[bool, typer.Option("--no-record", help="Do not put the rows on record.")] = False,
) -> None:
    """Assess many candidates of a study.

    A stopped sweep continues where it was when the same command is given again.
    """
    request = SweepRequest(study, vary or [], out, method, samples, seed, workers, scheduler, max_candidates)
    with exit_codes():
        plan, path = _run(request)
        _show(plan, path, as_json=as_json)
        if not no_record:
            recorders(context).sweep(plan, path)


def _run(request: SweepRequest) -> "tuple[Plan, Path]":
    """Run a sweep; returns its plan, and the Parquet file with its rows."""
    from lifetime.sweep.cached_folder import CachedFolder  # noqa: PLC0415
    from lifetime.sweep.plan import check_plan  # noqa: PLC0415
    from lifetime.sweep.run import executor, run_plan  # noqa: PLC0415

    plan = _plan(request)
    base = request.study.parent
    check_plan(plan, CachedFolder(base))
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


def _show(plan: "Plan", path: Path, *, as_json: bool) -> None:
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
