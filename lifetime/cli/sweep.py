"""The command ``sweep``."""

from pathlib import Path
from typing import Annotated

import typer

from lifetime.cli.options import AsJson, VariedStudy, Vary
from lifetime.cli.recorders import recorders
from lifetime.cli.terminal import exit_codes


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
    with exit_codes():
        from lifetime.cli.sweep_run import SweepRequest, run_sweep, show_sweep  # noqa: PLC0415

        request = SweepRequest(study, vary or [], out, method, samples, seed, workers, scheduler, max_candidates)
        plan, path = run_sweep(request)
        show_sweep(plan, path, as_json=as_json)
        if not no_record:
            recorders(context).sweep(plan, path)
