"""Commands on the database: upgrade, check, backup."""

from pathlib import Path
from typing import Annotated

import typer

from lifetime.cli.terminal import console
from webapi.cli.failures import answered

app = typer.Typer(help="The database: upgrade, check and back it up.", no_args_is_help=True)


@app.command("upgrade")
def upgrade_database() -> None:
    """Bring the database up to this version of the program.

    It is safe to run this twice, and from two machines at once.
    """
    with answered():
        from webapi import migrate  # noqa: PLC0415
        from webapi.database import engine_from  # noqa: PLC0415
        from webapi.settings import Settings  # noqa: PLC0415

        engine = engine_from(Settings.from_environment())
        try:
            before = migrate.upgrade(engine)
        finally:
            engine.dispose()
        words = "was up to date" if before.state == "current" else f"is now at {before.head}"
        console().print(f"The database {words}.")


@app.command("check")
def check_database() -> None:
    """Say whether database and store fit the program and each other."""
    with answered():
        from webapi.cli.storage import opened  # noqa: PLC0415
        from webapi.services.health import examine  # noqa: PLC0415

        with opened() as (factory, store), factory() as session:
            found = examine(session, store)
        for line in found.lines:
            console().print(line, markup=False)
        if not found.sound:
            raise typer.Exit(1)


@app.command("backup")
def back_up_database(
    file: Annotated[
        Path, typer.Argument(metavar="FILE", help="File for the copy; it must not exist yet.", show_default=False)
    ],
) -> None:
    """Copy the embedded database while it is in use."""
    with answered():
        from webapi.backup import back_up  # noqa: PLC0415
        from webapi.settings import Settings  # noqa: PLC0415

        back_up(Settings.from_environment(), file)
        console().print(
            f"The database is copied to {file}. Copy the folder with the stored histories as well; they never change.",
            markup=False,
        )
