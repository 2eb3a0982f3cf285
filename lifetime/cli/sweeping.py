"""What the commands ``sweep`` and ``tune`` do: plan, check, run, sum up."""

import json
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any

from lifetime.errors import InputError
from lifetime.report.words import counted, short_life

if TYPE_CHECKING:
    from rich.console import Console

    from lifetime.sweep.axes import Axis
    from lifetime.sweep.plan import Method, Plan
    from lifetime.sweep.summary import Summary

_SHOWN_FRONT = 12
_SHOWN_STEPS = 8


@dataclass(frozen=True, slots=True)
class WantedSweep:
    """What was asked for.

    Args:
        study: The study file.
        vary: Axes named beside it.
        out: Folder for the results, or None for one beside the study.
        method: grid, latin or sobol.
        samples: How many to draw.
        seed: Of the draw.
        workers: Processes.
        scheduler: Address of a Dask scheduler, or None.
        most: Most candidates allowed.
        as_json: Print one JSON document.
    """

    study: Path
    vary: list[str]
    out: Path | None
    method: str
    samples: int
    seed: int
    workers: int
    scheduler: str | None
    most: int
    as_json: bool


def sweep_and_print(wanted: WantedSweep, console: "Console") -> "tuple[Plan, Path]":
    """Run a sweep and print what it shows.

    Args:
        wanted: What was asked for.
        console: Where to print.

    Returns:
        The plan, and the Parquet file with its rows.

    Raises:
        InputError: The study, an axis or an option cannot be used.
    """
    from lifetime.sweep.candidate import OpenOnce  # noqa: PLC0415
    from lifetime.sweep.plan import check_plan  # noqa: PLC0415
    from lifetime.sweep.run import executor, run_plan  # noqa: PLC0415
    from lifetime.sweep.summary import summarise  # noqa: PLC0415

    plan = _plan(wanted)
    base = wanted.study.parent
    check_plan(plan, OpenOnce(base))
    folder = wanted.out or base / f"{wanted.study.stem}.sweep"
    _say_uneven(plan.axes)
    try:
        with executor(wanted.workers, wanted.scheduler) as pool, _bar("Assessing", len(plan.points)) as advance:
            path = run_plan(plan, base, folder, pool, advance)
    except KeyboardInterrupt:
        sys.stderr.write(f"Stopped. What was finished is kept in {folder}; the same command goes on from there.\n")
        raise
    found = summarise(path, plan.axes)
    if wanted.as_json:
        sys.stdout.write(json.dumps({"file": str(path), **asdict(found)}, indent=2, allow_nan=False) + "\n")
    else:
        print_summary(found, f"all in {path}", console)
    return plan, path


def _say_uneven(axes: "tuple[Axis, ...]") -> None:
    """Counts are rounded to whole numbers; say where the steps come out uneven."""
    for axis in axes:
        steps = {later - one for one, later in pairwise(axis.values)}
        if axis.whole and not axis.listed and len(steps) > 1:
            shown = ", ".join(f"{one:g}" for one in axis.values[:_SHOWN_STEPS])
            more = f" and {len(axis.values) - _SHOWN_STEPS} more" if len(axis.values) > _SHOWN_STEPS else ""
            sys.stderr.write(f"{axis.name} must be whole, so its steps are uneven: {shown}{more}.\n")


def tune_and_print(
    study: Path, vary: list[str], strategy: str, budget: int, console: "Console", *, as_json: bool
) -> None:
    """Search the best values of a strategy's keys and print them.

    Args:
        study: The study file.
        vary: Axes; their ends are the bounds.
        strategy: Which strategy.
        budget: Most candidates assessed.
        console: Where to print.
        as_json: Print one JSON document.

    Raises:
        InputError: The study, an axis or an option cannot be used.
    """
    from rich.text import Text  # noqa: PLC0415

    from lifetime.study.load import read_toml  # noqa: PLC0415
    from lifetime.sweep.axes import find_axes, named_axis  # noqa: PLC0415
    from lifetime.sweep.candidate import OpenOnce  # noqa: PLC0415
    from lifetime.sweep.plan import check_plan, make_plan  # noqa: PLC0415
    from lifetime.sweep.tune import tune  # noqa: PLC0415

    if budget < 3:
        raise InputError(f"--budget must be at least 3, got {budget}.")
    data = read_toml(study)
    axes = (*find_axes(data, str(study)), *(named_axis(one, data) for one in vary))
    check_plan(make_plan(data, str(study), axes), OpenOnce(study.parent))
    with _bar("Searching", budget) as advance:
        found = tune(data, str(study), study.parent, axes, strategy, budget, lambda _: advance(1))
    if as_json:
        names = [axis.name for axis in axes]
        best = dict(zip(names, found.values, strict=True))
        tried = [{"values": list(values), "net_present": cost} for values, cost in found.tried]
        document = {"strategy": strategy, "best": best, "net_present": found.net_present, "axes": names, "tried": tried}
        sys.stdout.write(json.dumps(document, indent=2, allow_nan=False) + "\n")
        return
    words = f"least net present cost {found.net_present:,.0f} of {counted(found.evaluations, 'candidate')}, at"
    console.print(Text(f"{strategy}: {words}"))
    for axis, value in zip(axes, found.values, strict=True):
        end = axis.end_at(value)
        beyond = f", the {end} it may take: the least cost may lie beyond" if end else ""
        console.print(Text(f"  {axis.name} = {value:.6g}{beyond}"))


def print_summary(found: "Summary", where: str, console: "Console") -> None:
    """Print what a sweep shows.

    Args:
        found: What it shows.
        where: Where its rows are, in words.
        console: Where to print.
    """
    from rich.text import Text  # noqa: PLC0415

    reason = "a source does not meet its requirement, or lasts less than a day"
    lacking = f", {found.undelivered:,} without: {reason}" if found.undelivered else ""
    counts = f"{counted(found.candidates, 'candidate')}, {counted(found.rows, 'row')} with a cost{lacking}"
    console.print(Text(f"{counts}; {where}"))
    if found.problems[0]:
        console.print(Text(f"{found.problems[0]:,} candidates have no result, the first because: {found.problems[1]}"))
    if found.best is None:
        return
    console.print()
    console.print(Text("Cheapest", style="bold"))
    console.print(Text(_words(found.best, found)))
    sized = found.best_with_bank or found.best
    if found.best_with_bank is not None and found.best_with_bank != found.best:
        console.print(Text("Cheapest with a bank", style="bold"))
        console.print(Text(_words(sized, found)))
    for name, value, cost in found.neighbours:
        more = cost - sized["net_present"]
        console.print(Text(f"  {name} = {value:.6g} instead: {more:+,.0f}"))
    _print_sensitivity(found, console)
    _print_break_even(found, console)
    console.print()
    console.print(Text("Beaten by none in cost, battery life and mass of cells", style="bold"))
    for row in found.front[:_SHOWN_FRONT]:
        console.print(Text("  " + _words(row, found)))
    if len(found.front) > _SHOWN_FRONT:
        console.print(f"  and {len(found.front) - _SHOWN_FRONT} more")


def _print_sensitivity(found: "Summary", console: "Console") -> None:
    from rich.table import Table  # noqa: PLC0415
    from rich.text import Text  # noqa: PLC0415

    console.print()
    console.print(Text("What moves the cost most: mean at the lowest and the highest fifth", style="bold"))
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0))
    for heading in ("key", "low", "high", "difference"):
        table.add_column(heading, justify="left" if heading == "key" else "right")
    for name, low, high in found.sensitivity:
        table.add_row(name, f"{low:,.0f}", f"{high:,.0f}", f"{high - low:+,.0f}")
    console.print(table)


def _print_break_even(found: "Summary", console: "Console") -> None:
    from rich.text import Text  # noqa: PLC0415

    if not found.break_even:
        return
    console.print()
    console.print(Text("Price at which a strategy costs as much as the battery alone", style="bold"))
    for strategy, bank, battery in found.break_even:
        parts = [f"bank {bank:.2f} times" if bank else "", f"battery {battery:.2f} times" if battery else ""]
        console.print(Text(f"  {strategy}: {' or '.join(part for part in parts if part)} the price in the study"))


def _words(row: dict[str, Any], found: "Summary") -> str:
    keys = [name for name, _, _ in found.sensitivity]
    values = ", ".join(f"{key} = {row[key]:.6g}" for key in keys)
    life = short_life(row["battery_life_years"])
    mass = "" if row["cells_kg"] is None else f", {row['cells_kg']:,.0f} kg of cells"
    return f"{row['net_present']:,.0f}: {row['strategy']}; {values}; battery {life}{mass}"


def _plan(wanted: WantedSweep) -> "Plan":
    from lifetime.study.load import read_toml  # noqa: PLC0415
    from lifetime.sweep.axes import find_axes, named_axis  # noqa: PLC0415
    from lifetime.sweep.plan import make_plan  # noqa: PLC0415

    methods: dict[str, Method] = {"grid": "grid", "latin": "latin", "sobol": "sobol"}
    if wanted.method not in methods:
        raise InputError(f'--method must be grid, latin or sobol, got "{wanted.method}".')
    if wanted.workers < 1:
        raise InputError(f"--workers must be at least 1, got {wanted.workers}.")
    data = read_toml(wanted.study)
    axes = [*find_axes(data, str(wanted.study)), *(named_axis(one, data) for one in wanted.vary)]
    return make_plan(
        data,
        str(wanted.study),
        axes,
        method=methods[wanted.method],
        samples=wanted.samples,
        seed=wanted.seed,
        most=wanted.most,
    )


@contextmanager
def _bar(words: str, total: int) -> "Iterator[Any]":
    """A progress bar on a terminal, and none in a pipe."""
    from rich.console import Console  # noqa: PLC0415
    from rich.progress import Progress  # noqa: PLC0415

    with Progress(console=Console(stderr=True), transient=True, disable=not sys.stderr.isatty()) as progress:
        task = progress.add_task(words, total=total)
        yield lambda count: progress.advance(task, count)
