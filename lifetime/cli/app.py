"""The program's commands for assessing and checking; slow imports wait until they are needed.

Exit codes: 0 done, 1 a run failed, 2 bad input.
"""

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from lifetime.cli.targets import check_target
from lifetime.errors import InputError, PackwearError

if TYPE_CHECKING:
    from rich.console import Console

    from lifetime.results.records import Assessment
    from lifetime.study.load import LoadedStudy
    from lifetime.sweep.plan import Plan

Recorder = Callable[["LoadedStudy", "Assessment", Path], None]
"""Puts an assessment on record: the study as assessed, its result, and the folder its paths start from."""

AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON document on standard output, nothing else.")]
Vary = Annotated[
    list[str] | None,
    typer.Option("--vary", metavar="KEY=FROM:TO:STEPS[:log]", help="A key and what it takes; may be given again."),
]
Report = Annotated[
    Path | None,
    typer.Option("--report", metavar="FILE.html", help="Also write a report: one file, opens offline, prints on A4."),
]


SweepRecorder = Callable[["Plan", Path], None]
"""Puts a sweep on record: its plan, and the Parquet file with its rows."""


def build_app(record: Recorder, record_sweep: SweepRecorder) -> typer.Typer:
    """Make the program with its assessing, checking and sweeping commands.

    Args:
        record: Called after each assessment of the user's own, unless told not to.
        record_sweep: The same after each sweep.
    """
    app = typer.Typer(
        name="packwear",
        help="How long a battery and an ultracapacitor bank live under each power-split strategy, and what it costs.",
        no_args_is_help=True,
        add_completion=False,
        rich_markup_mode=None,
        pretty_exceptions_enable=False,
    )

    @app.callback()
    def top(
        version: Annotated[
            bool, typer.Option("--version", help="Print the version and end.", is_eager=True, callback=_print_version)
        ] = False,
    ) -> None:
        """Options of the program itself."""

    @app.command()
    def assess(
        study: Annotated[Path, typer.Argument(help="The study file (TOML).", show_default=False)],
        as_json: AsJson = False,
        report: Report = None,
        no_record: Annotated[bool, typer.Option("--no-record", help="Do not keep the result on record.")] = False,
    ) -> None:
        """Assess a study and rank its strategies by net present cost."""
        assess_and_print(study, as_json=as_json, report=report, record=None if no_record else record)

    @app.command()
    def demo(as_json: AsJson = False, report: Report = None) -> None:
        """Assess the built-in, invented study of a yard tractor."""
        from lifetime.packs.locate import profiles_folder  # noqa: PLC0415

        if not as_json:
            sys.stderr.write("An invented yard tractor; nothing in it was measured.\n\n")
        path = profiles_folder() / "demo" / "yard_tractor.toml"
        assess_and_print(path, as_json=as_json, report=report, record=None)

    @app.command()
    def check(
        file: Annotated[str, typer.Argument(help="A history file, or a pattern: 'log_*.csv'.", show_default=False)],
        as_json: AsJson = False,
        plot: Annotated[
            Path | None,
            typer.Option("--plot", metavar="FILE.html", help="Also write a page with the channels over time."),
        ] = None,
        write: Annotated[
            Path | None,
            typer.Option("--write", metavar="STUDY.toml", help="Also write a study to edit, with the file in place."),
        ] = None,
        header_row: Annotated[
            int | None, typer.Option("--header-row", min=0, help="Row of the column names, 0 for none.")
        ] = None,
        decimal: Annotated[str | None, typer.Option("--decimal", help="Decimal mark of a text: . or ,")] = None,
        sheet: Annotated[str | None, typer.Option("--sheet", help="Sheet of a workbook.")] = None,
        bus_database: Annotated[
            Path | None, typer.Option("--bus-database", metavar="FILE.dbc", help="Decodes raw frames of a vehicle bus.")
        ] = None,
    ) -> None:
        """Say what a history file holds and what is wrong with it."""
        from lifetime.cli.checking import Wanted, check_and_print  # noqa: PLC0415

        wanted = Wanted(file, as_json, plot, write, header_row, decimal, sheet, bus_database)
        with exit_codes():
            check_and_print(wanted, console())

    @app.command()
    def bound(
        study: Annotated[Path, typer.Argument(help="The study file (TOML).", show_default=False)],
        as_json: AsJson = False,
    ) -> None:
        """Say how little rms and peak power the best possible split leaves the battery."""
        from lifetime.cli.bounding import bound_and_print  # noqa: PLC0415

        with exit_codes():
            bound_and_print(study, console(), as_json=as_json)

    @app.command()
    def sweep(
        study: Annotated[Path, typer.Argument(help="A study, with ranges in place of numbers.", show_default=False)],
        vary: Vary = None,
        out: Annotated[Path | None, typer.Option("--out", metavar="FOLDER", help="Where results are kept.")] = None,
        method: Annotated[str, typer.Option("--method", help="grid, latin or sobol.")] = "grid",
        samples: Annotated[int, typer.Option("--samples", help="How many to draw, for latin and sobol.")] = 0,
        seed: Annotated[int, typer.Option("--seed", help="Of the draw.")] = 0,
        workers: Annotated[int, typer.Option("--workers", help="Processes on this machine.")] = 1,
        scheduler: Annotated[
            str | None, typer.Option("--scheduler", metavar="tcp://HOST:PORT", help="A Dask scheduler instead.")
        ] = None,
        most: Annotated[int, typer.Option("--most", help="Most candidates allowed.")] = 20_000,
        as_json: AsJson = False,
        no_record: Annotated[bool, typer.Option("--no-record", help="Do not keep the rows on record.")] = False,
    ) -> None:
        """Assess many candidates of a study; a stopped sweep goes on where it was."""
        from lifetime.cli.sweeping import WantedSweep, sweep_and_print  # noqa: PLC0415

        wanted = WantedSweep(study, vary or [], out, method, samples, seed, workers, scheduler, most, as_json)
        with exit_codes():
            plan, path = sweep_and_print(wanted, console())
            if not no_record:
                record_sweep(plan, path)

    @app.command()
    def tune(
        study: Annotated[Path, typer.Argument(help="A study, with ranges in place of numbers.", show_default=False)],
        strategy: Annotated[str, typer.Option("--strategy", metavar="NAME", help="Whose cost counts.")],
        vary: Vary = None,
        budget: Annotated[int, typer.Option("--budget", help="Most candidates assessed.")] = 60,
        as_json: AsJson = False,
    ) -> None:
        """Search the values of a strategy's keys that cost least."""
        from lifetime.cli.sweeping import tune_and_print  # noqa: PLC0415

        with exit_codes():
            tune_and_print(study, vary or [], strategy, budget, console(), as_json=as_json)

    return app


def _print_version(wanted: bool) -> None:
    if wanted:
        from lifetime.version import program_version  # noqa: PLC0415 - slow import

        sys.stdout.write(f"packwear {program_version()}\n")
        raise typer.Exit


def assess_and_print(path: Path, *, as_json: bool, report: Path | None, record: Recorder | None) -> None:
    """Assess a study file, print the ranking or the document, and write the report and the record asked for.

    Args:
        path: The study file.
        as_json: Print the JSON document instead of the ranking.
        report: Where to write the report, or None.
        record: Puts the result on record, or None.
    """
    with exit_codes():
        from lifetime.results.document import ResultDocument  # noqa: PLC0415
        from lifetime.study.load import load_study  # noqa: PLC0415

        check_target(report, "--report")
        loaded = load_study(path)
        assessment = _with_progress(loaded)
        document = ResultDocument.of(assessment)
        if as_json:
            sys.stdout.write(document.to_json() + "\n")
        else:
            from lifetime.report.table import print_ranking  # noqa: PLC0415

            print_ranking(document, console())
        sys.stdout.flush()
        if report is not None:
            from lifetime.report.html import write_report  # noqa: PLC0415

            write_report(document, report)
        if record is not None:
            record(loaded, assessment, path.parent)


def _with_progress(loaded: "LoadedStudy") -> "Assessment":
    """Assess with a progress bar on a terminal, and none in a pipe."""
    from rich.console import Console  # noqa: PLC0415
    from rich.progress import Progress  # noqa: PLC0415

    from lifetime.assess.run import assess as run  # noqa: PLC0415

    with Progress(console=Console(stderr=True), transient=True, disable=not sys.stderr.isatty()) as progress:
        task = progress.add_task("Assessing", total=len(loaded.study.strategy))
        return run(loaded, lambda _: progress.advance(task))


def console() -> "Console":
    """A console that keeps to 80 columns where there is no terminal to ask."""
    from rich.console import Console  # noqa: PLC0415

    return Console(width=None if sys.stdout.isatty() else 80, highlight=False)


@contextmanager
def exit_codes() -> Iterator[None]:
    """Turn the error tree into messages on standard error and exit codes."""
    try:
        yield
    except InputError as error:
        sys.stderr.write(f"{error}\n")
        raise typer.Exit(2) from None
    except PackwearError as error:
        sys.stderr.write(f"{error}\n")
        raise typer.Exit(1) from None
    except MemoryError:
        sys.stderr.write("The machine has not enough memory for this run.\n")
        raise typer.Exit(1) from None
    except BrokenPipeError:
        # The reader of our output has gone; there is nobody left to tell.
        sys.stderr.close()
        raise typer.Exit(0) from None
    except OSError as error:
        place = error.filename or "A file or an address"
        sys.stderr.write(
            f"{place}: {error.strerror or error}. Name a place that exists and that you may read and write, then run "
            "the command again.\n"
        )
        raise typer.Exit(2) from None
