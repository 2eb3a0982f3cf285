"""Commands that delete from the record, and the one that shows who changed what."""

from typing import Annotated, Any

import typer

from lifetime.cli.options import AsJson
from lifetime.cli.terminal import console, print_json
from webapi.cli.failures import answered

Key = Annotated[str, typer.Argument(metavar="ID", help="The id, or its first letters.", show_default=False)]


def delete(key: Key) -> None:
    """Delete an assessment, or a history that nothing needs.

    The audit trail keeps a line about it. A history is needed as long as an assessment was made from it.
    """
    with answered():
        from webapi.cli.storage import opened  # noqa: PLC0415
        from webapi.models import Assessment, History  # noqa: PLC0415
        from webapi.services import deletion, keys  # noqa: PLC0415

        with opened() as (factory, store), factory() as session:
            full = keys.full_id(session, key, Assessment, History)
            if session.get(History, full) is not None:
                deletion.delete_history(session, store, full)
                console().print(f"The history {full} is deleted.", markup=False)
            else:
                deletion.delete_assessment(session, full)
                console().print(f"The assessment {full} is deleted; its study is still there.", markup=False)


def audit_trail(
    limit: Annotated[
        int, typer.Option("--limit", metavar="NUMBER", min=1, max=500, help="Largest number listed, newest first.")
    ] = 50,
    cursor: Annotated[
        str | None, typer.Option("--cursor", metavar="CURSOR", help="Continue after the list that ended with this.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Show who uploaded, submitted, cancelled or deleted what.

    The newest comes first; tokens made and revoked are shown too.
    """
    with answered():
        from rich.table import Table  # noqa: PLC0415
        from rich.text import Text  # noqa: PLC0415

        from webapi.cli.storage import opened  # noqa: PLC0415
        from webapi.services import audit  # noqa: PLC0415

        with opened() as (factory, _), factory() as session:
            page = audit.listed(session, cursor=cursor, limit=limit)
        if as_json:
            print_json({"items": [_plain(row) for row in page.items], "next_cursor": page.next_cursor})
            return
        table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="bold")
        for heading in ("when (UTC)", "who", "what", "title", "id"):
            table.add_column(heading, overflow="fold", no_wrap=heading == "when (UTC)")
        for row in page.items:
            who = Text(row.who if row.token_id is None else f"{row.who} ({row.token_id})")
            what = f"{row.action} {row.subject}"
            table.add_row(f"{row.created_at:%Y-%m-%d %H:%M}", who, what, Text(row.title), row.subject_id[:12])
        console().print(table)
        if page.next_cursor is not None:
            console().print(f"Older lines: packwear record audit --cursor {page.next_cursor}", markup=False)


def _plain(row: Any) -> dict[str, Any]:
    names = ("id", "who", "token_id", "action", "subject", "subject_id", "title")
    return {"created_at": row.created_at.isoformat(), **{name: getattr(row, name) for name in names}}
