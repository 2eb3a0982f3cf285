"""The JSON API under /api/v1, one blueprint a file."""

from apiflask import APIBlueprint


def blueprints() -> tuple[APIBlueprint, ...]:
    """Every blueprint of the API, in the order of the documentation."""
    from webapi.api import assessments, audit, health, histories, jobs, sets, studies, table  # noqa: PLC0415 - in use only

    parts = (histories, sets, studies, jobs, assessments, table, audit, health)
    return tuple(part.blueprint for part in parts)
