"""The program ``packwear``: commands, exit codes, and nothing else; slow imports wait until they are needed.

Exit codes: 0 done, 1 a run failed, 2 bad input.
"""

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from lifetime.errors import InputError, PackwearError

if TYPE_CHECKING:
    from rich.console import Console

    from lifetime.result import Assessment
    from lifetime.study.load import LoadedStudy

app = typer.Typer(
    name="packwear",
    help="How long a battery and an ultracapacitor bank live under each power-split strategy, and what it costs.",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)

AsJson = Annotated[bool, typer.Option("--json", help="Print one JSON document on standard output, nothing else.")]


@app.command()
def assess(
    study: Annotated[Path, typer.Argument(help="The study file (TOML).", show_default=False)],
    as_json: AsJson = False,
) -> None:
    """Assess a study and rank its strategies by net present cost."""
    _assess_and_print(study, as_json=as_json)


@app.command()
def demo(
    as_json: AsJson = False,
) -> None:
    """Assess the built-in study of a yard tractor; its data are invented."""
    from lifetime.packs.locate import profiles_folder  # noqa: PLC0415

    if not as_json:
        sys.stderr.write("An invented yard tractor; nothing in it was measured.\n\n")
    _assess_and_print(profiles_folder() / "demo" / "yard_tractor.toml", as_json=as_json)


@app.command()
def check(
    file: Annotated[Path, typer.Argument(help="A history file (CSV or Parquet).", show_default=False)],
    as_json: AsJson = False,
) -> None:
    """Say what a history file holds, what is wrong with it, and how to name it in a study."""
    from lifetime.history.quality import describe_file  # noqa: PLC0415
    from lifetime.report.file_report import file_document, print_file_report  # noqa: PLC0415

    with _exit_codes():
        report = describe_file(file)
        if as_json:
            sys.stdout.write(file_document(report) + "\n")
        else:
            print_file_report(report, _console())


def _assess_and_print(path: Path, *, as_json: bool) -> None:
    with _exit_codes():
        from lifetime.report.document import to_json  # noqa: PLC0415
        from lifetime.study.load import load_study  # noqa: PLC0415

        loaded = load_study(path)
        assessment = _with_progress(loaded)
        if as_json:
            sys.stdout.write(to_json(assessment) + "\n")
            return
        from lifetime.report.table import print_ranking  # noqa: PLC0415

        print_ranking(assessment, _console())


def _with_progress(loaded: "LoadedStudy") -> "Assessment":
    """Assess with a progress bar on a terminal, and none in a pipe."""
    from rich.console import Console  # noqa: PLC0415
    from rich.progress import Progress  # noqa: PLC0415

    from lifetime.assess.run import assess as run  # noqa: PLC0415

    with Progress(console=Console(stderr=True), transient=True, disable=not sys.stderr.isatty()) as progress:
        task = progress.add_task("Assessing", total=len(loaded.study.strategy))
        return run(loaded, lambda _: progress.advance(task))


def _console() -> "Console":
    """A console that keeps to 80 columns where there is no terminal to ask."""
    from rich.console import Console  # noqa: PLC0415

    return Console(width=None if sys.stdout.isatty() else 80, highlight=False)


@contextmanager
def _exit_codes() -> Iterator[None]:
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


def main() -> None:
    """Entry point of the program."""
    app()
