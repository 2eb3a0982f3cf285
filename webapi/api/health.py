"""Whether the process lives, and whether it can work."""

from typing import Any

from apiflask import APIBlueprint

from webapi import migrate
from webapi.api.shapes import Live, Ready
from webapi.context import context

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
    found = migrate.require_current(context().engine)
    return {"status": "ready", "database_revision": found.revision}
