"""The library's commands, put together; slow imports wait until a command needs them."""

import sys
from typing import Annotated

import typer

from lifetime.cli.assess import assess, demo
from lifetime.cli.check import check
from lifetime.cli.fit_resistance import fit_resistance
from lifetime.cli.least_rms import least_rms
from lifetime.cli.recorders import Recorders
from lifetime.cli.search import search
from lifetime.cli.sweep import sweep


def build_app(recorders: Recorders) -> typer.Typer:
    """Make the program with the library's commands.

    Args:
        recorders: What puts results on record.
    """
    app = typer.Typer(
        name="packwear",
        help="How long a battery and an ultracapacitor bank live under each power-split strategy, and what it costs.",
        no_args_is_help=True,
        add_completion=False,
        rich_markup_mode=None,
        pretty_exceptions_enable=False,
        context_settings={"obj": recorders},
    )
    app.callback()(program_options)
    for command in (assess, demo, check, least_rms, fit_resistance, sweep, search):
        app.command()(command)
    return app


def _print_version(wanted: bool) -> None:
    if wanted:
        from lifetime.version import program_version  # noqa: PLC0415 - slow import

        sys.stdout.write(f"packwear {program_version()}\n")
        raise typer.Exit


def program_options(
    version: Annotated[
        bool, typer.Option("--version", help="Print the version and exit.", is_eager=True, callback=_print_version)
    ] = False,
) -> None:
    """Options of the program itself."""
