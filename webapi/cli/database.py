"""Commands on the database and its store: upgrade, check, repair, backup."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from lifetime.cli.terminal import console
from webapi.cli.failures import answered

if TYPE_CHECKING:
    from webapi.services.health import Examination

app = typer.Typer(help="The database with its histories: check, repair, back up.", no_args_is_help=True)


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
    """Name what is damaged or missing in database and store.

    The exit code is 1 where something is.
    """
    with answered():
        from webapi.cli.storage import opened  # noqa: PLC0415
        from webapi.services.health import examine  # noqa: PLC0415

        with opened() as (factory, store), factory() as session:
            _tell(examine(session, store))


@app.command("repair")
def repair_database(
    files: Annotated[
        list[Path] | None,
        typer.Argument(
            metavar="[FILES]",
            help="Files that were uploaded once; their histories are stored anew where these are damaged or missing.",
            exists=True,
            dir_okay=False,
            show_default=False,
        ),
    ] = None,
) -> None:
    """Heal what can be healed, and name what is left.

    The exit code is 1 where something is.
    """
    with answered():
        from webapi.cli.storage import opened  # noqa: PLC0415
        from webapi.services.health import examine  # noqa: PLC0415
        from webapi.services.repair import repair  # noqa: PLC0415

        with opened() as (factory, store), factory() as session:
            for line in repair(session, store, files or ()):
                console().print(line, markup=False)
            _tell(examine(session, store))


@app.command("backup")
def back_up_database(
    file: Annotated[
        Path, typer.Argument(metavar="FILE", help="File for the copy; it must not exist yet.", show_default=False)
    ],
) -> None:
    """Copy the embedded database while it is in use.

    The stored histories are not in the copy.
    """
    with answered():
        from webapi.backup import back_up  # noqa: PLC0415
        from webapi.settings import Settings  # noqa: PLC0415

        settings = Settings.from_environment()
        back_up(settings, file)
        console().print(
            f"The database is copied to {file}. The histories are not in it: copy {settings.store_url} as well, now "
            "and not before, so that it has every history that the copy names. Stored files never change, so the "
            "service may go on meanwhile.",
            markup=False,
        )


def _tell(found: "Examination") -> None:
    for line in found.lines:
        console().print(line, markup=False)
    if not found.sound:
        raise typer.Exit(1)
