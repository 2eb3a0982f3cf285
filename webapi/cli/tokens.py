"""Commands on bearer tokens."""

import sys
from typing import Annotated

import typer

from lifetime.cli.terminal import console
from webapi.cli.failures import answered

app = typer.Typer(help="Bearer tokens for the service: make, list and revoke them.", no_args_is_help=True)


@app.command("create")
def create_token(
    name: Annotated[
        str, typer.Argument(metavar="NAME", help="Person or program that the token is for.", show_default=False)
    ],
    role: Annotated[
        str, typer.Option("--role", metavar="ROLE", help="What the token allows: reader, analyst or administrator.")
    ] = "reader",
) -> None:
    """Make a token and print it; it cannot be shown again."""
    with answered():
        from webapi.cli.storage import opened  # noqa: PLC0415
        from webapi.services import tokens  # noqa: PLC0415

        with opened() as (factory, _), factory() as session:
            row, secret = tokens.create(session, name, role)  # type: ignore[arg-type]
        sys.stderr.write(f"Token {row.id} for {row.name}, {row.role}. Keep it safe; it is not shown again:\n")
        sys.stdout.write(secret + "\n")


@app.command("list")
def list_tokens() -> None:
    """List all tokens with role, last use and revocation."""
    with answered():
        from rich.table import Table  # noqa: PLC0415
        from rich.text import Text  # noqa: PLC0415

        from webapi.cli.storage import opened  # noqa: PLC0415
        from webapi.services import tokens  # noqa: PLC0415

        with opened() as (factory, _), factory() as session:
            rows = tokens.listed(session)
        if not rows:
            console().print("There are no tokens. Make one with: packwear token create NAME --role analyst")
            return
        table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="bold")
        for heading in ("id", "name", "role", "made (UTC)", "last used (UTC)", "revoked (UTC)"):
            table.add_column(heading)
        for row in rows:
            stamps = [
                "" if moment is None else f"{moment:%Y-%m-%d %H:%M}"
                for moment in (row.created_at, row.last_used_at, row.revoked_at)
            ]
            table.add_row(row.id, Text(row.name), row.role, *stamps)
        console().print(table)


@app.command("revoke")
def revoke_token(key: Annotated[str, typer.Argument(metavar="ID", help="The token's id.", show_default=False)]) -> None:
    """Take a token out of use at once."""
    with answered():
        from webapi.cli.storage import opened  # noqa: PLC0415
        from webapi.services import tokens  # noqa: PLC0415

        with opened() as (factory, _), factory() as session:
            row = tokens.revoke(session, key)
        console().print(f"Token {row.id} ({row.name}) is revoked.", markup=False)
