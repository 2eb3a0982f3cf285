"""Puts the program together; slow imports wait until a command needs them."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from lifetime.cli.app import build_app
from lifetime.errors import PackwearError
from webapi.cli import database, past, service, tokens
from webapi.cli.failing import unreachable

if TYPE_CHECKING:
    from lifetime.result import Assessment
    from lifetime.study.load import LoadedStudy
    from lifetime.sweep.plan import Plan


def record(loaded: "LoadedStudy", assessment: "Assessment", base: Path) -> None:
    """Put an assessment on record; where that fails the result is printed all the same, and this says why.

    Args:
        loaded: The study as assessed.
        assessment: Its result.
        base: Folder that the study's paths start from.
    """
    from sqlalchemy.exc import SQLAlchemyError  # noqa: PLC0415

    from webapi.cli.opening import opened  # noqa: PLC0415
    from webapi.services.recording import record_files  # noqa: PLC0415

    try:
        with opened() as (factory, store), factory() as session:
            _, new = record_files(session, store, loaded, assessment, base)
    except (PackwearError, SQLAlchemyError, OSError, ModuleNotFoundError) as error:
        told = error if isinstance(error, PackwearError) else unreachable(error)
        sys.stderr.write(f"Not recorded: {told}\n")
        return
    words = "Recorded" if new else "Already on record"
    sys.stderr.write(f"{words} as {assessment.id}; see it with: packwear past show {assessment.id}\n")


def record_sweep(plan: "Plan", path: Path) -> None:
    """Put a sweep on record; where that fails its file is there all the same, and this says why.

    Args:
        plan: What was run.
        path: The Parquet file with its rows.
    """
    from sqlalchemy.exc import SQLAlchemyError  # noqa: PLC0415

    from webapi.cli.opening import opened  # noqa: PLC0415
    from webapi.services import sweeps  # noqa: PLC0415

    try:
        with opened() as (factory, _), factory() as session:
            _, new = sweeps.record(session, plan, path)
    except (PackwearError, SQLAlchemyError, OSError, ModuleNotFoundError) as error:
        told = error if isinstance(error, PackwearError) else unreachable(error)
        sys.stderr.write(f"Not recorded: {told}\n")
        return
    sys.stderr.write(
        f"{'Recorded' if new else 'Already on record'} as {plan.key}; see it with: packwear past show {plan.key}\n"
    )


def program() -> typer.Typer:
    """The whole program."""
    app = build_app(record, record_sweep)
    app.add_typer(past.app, name="past")
    app.add_typer(tokens.app, name="token")
    app.add_typer(database.app, name="db")
    app.command()(service.serve)
    app.command()(service.worker)
    return app


def main() -> None:
    """Entry point of the program."""
    program()()
