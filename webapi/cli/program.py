"""Puts the program together; slow imports wait until a command needs them."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING

import typer

from lifetime.cli.app import build_app
from lifetime.cli.recorders import Recorders
from lifetime.errors import PackwearError
from webapi.cli import audit, database, record, service, tokens
from webapi.cli.failures import unreachable

if TYPE_CHECKING:
    from collections.abc import Callable

    from sqlalchemy.orm import Session

    from lifetime.results.records import Assessment
    from lifetime.study.load import LoadedStudy
    from lifetime.sweep.plan import Plan
    from webapi.store import HistoryStore


def record_assessment(loaded: "LoadedStudy", assessment: "Assessment", base: Path) -> None:
    """Put an assessment on record; where that fails the result is printed all the same, and this says why.

    Args:
        loaded: The study as assessed.
        assessment: Its result.
        base: Folder that the study's paths start from.
    """

    def keep(session: "Session", store: "HistoryStore") -> bool:
        from webapi.services.recording import record_files  # noqa: PLC0415

        return record_files(session, store, loaded, assessment, base)[1]

    _keep(assessment.id, keep)


def record_sweep(plan: "Plan", path: Path) -> None:
    """Put a sweep on record; where that fails its file is there all the same, and this says why.

    Args:
        plan: What was run.
        path: The Parquet file with its rows.
    """

    def keep(session: "Session", _: "HistoryStore") -> bool:
        from webapi.services import sweeps  # noqa: PLC0415

        return sweeps.record(session, plan, path)[1]

    _keep(plan.key, keep)


def _keep(key: str, keep: "Callable[[Session, HistoryStore], bool]") -> None:
    """Keep something under its id, and say whether it is new, or why it is not kept."""
    from sqlalchemy.exc import SQLAlchemyError  # noqa: PLC0415

    from webapi.cli.storage import opened  # noqa: PLC0415

    try:
        with opened() as (factory, store), factory() as session:
            new = keep(session, store)
    except (PackwearError, SQLAlchemyError, OSError, ModuleNotFoundError) as error:
        told = error if isinstance(error, PackwearError) else unreachable(error)
        sys.stderr.write(f"Not recorded: {told}\n")
        return
    words = "Recorded" if new else "Already on record"
    sys.stderr.write(f"{words} as {key}; see it with: packwear record show {key}\n")


def program() -> typer.Typer:
    """The whole program."""
    app = build_app(Recorders(record_assessment, record_sweep))
    record.app.command("delete")(audit.delete)
    record.app.command("audit")(audit.audit_trail)
    app.add_typer(record.app, name="record")
    app.add_typer(tokens.app, name="token")
    app.add_typer(database.app, name="db")
    app.command()(service.serve)
    app.command()(service.worker)
    return app


def main() -> None:
    """Entry point of the program."""
    program()()
