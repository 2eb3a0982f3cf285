"""Commands that run the service."""

from typing import Annotated

import typer

from webapi.cli.failing import answered


def serve(
    host: Annotated[str | None, typer.Option(help="Address to listen at; else PACKWEAR_HOST or 127.0.0.1.")] = None,
    port: Annotated[int | None, typer.Option(min=1, max=65535, help="Port; else PACKWEAR_PORT or 8080.")] = None,
) -> None:
    """Run the web service and one worker."""
    with answered():
        from webapi.serve import serve_forever  # noqa: PLC0415
        from webapi.settings import Settings  # noqa: PLC0415

        given = {key: value for key, value in (("host", host), ("port", port)) if value is not None}
        serve_forever(Settings.from_environment().model_copy(update=given))


def worker() -> None:
    """Run one more worker, here or on another machine, on the database that PACKWEAR_DATABASE_URL names."""
    with answered():
        from webapi.settings import Settings  # noqa: PLC0415
        from webapi.worker import work_forever  # noqa: PLC0415

        work_forever(Settings.from_environment())
