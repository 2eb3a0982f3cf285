"""Commands that run the service."""

from typing import Annotated

import typer

from webapi.cli.failures import answered


def serve(
    host: Annotated[
        str | None,
        typer.Option(
            "--host", metavar="ADDRESS", help="Address to listen at; if left out, PACKWEAR_HOST or 127.0.0.1."
        ),
    ] = None,
    port: Annotated[
        int | None,
        typer.Option(
            "--port", metavar="NUMBER", min=1, max=65535, help="Port to listen at; if left out, PACKWEAR_PORT or 8080."
        ),
    ] = None,
) -> None:
    """Run the web service and one worker."""
    with answered():
        from webapi.serve import serve_forever  # noqa: PLC0415
        from webapi.settings import Settings  # noqa: PLC0415

        given = {key: value for key, value in (("host", host), ("port", port)) if value is not None}
        serve_forever(Settings.from_environment().model_copy(update=given))


def worker() -> None:
    """Run one more worker, on this or another machine.

    It works on the database that PACKWEAR_DATABASE_URL names.
    """
    with answered():
        from webapi.settings import Settings  # noqa: PLC0415
        from webapi.worker import work_forever  # noqa: PLC0415

        work_forever(Settings.from_environment())
