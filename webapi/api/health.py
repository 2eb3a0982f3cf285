"""Whether the process lives, and whether it can work."""

from typing import Any

from apiflask import APIBlueprint
from sqlalchemy import text

from webapi import migrate
from webapi.api.shapes import Live, Ready
from webapi.context import context, session
from webapi.problems import problem

blueprint = APIBlueprint("health", __name__, url_prefix="/api/v1/health", tag="Health")


@blueprint.get("/live")
@blueprint.output(Live)
@blueprint.doc(summary="Does the process answer?")
def live() -> Any:
    """It does."""
    return {"status": "live"}


@blueprint.get("/ready")
@blueprint.output(Ready)
@blueprint.doc(summary="Can it work: is the database there and at the right revision?")
def ready() -> Any:
    """Ask the database."""
    with session() as opened:
        opened.execute(text("SELECT 1"))
    now = migrate.state(context().engine)
    if now.state != "current":
        return problem(503, f"The database is {now.state}. Run: packwear db upgrade")
    return {"status": "ready", "database_revision": now.revision}
