"""Shipped parameter sets with the source and grade of every value."""

from functools import cache
from pathlib import Path
from typing import Any

from apiflask import APIBlueprint

from lifetime.packs.cell import Cell
from lifetime.packs.load import load_cell
from lifetime.packs.locate import shipped_ids
from lifetime.results.parameters import ProvenanceView
from webapi.api.shapes import SetFull, SetList
from webapi.auth import needs
from webapi.errors import NotFoundError

blueprint = APIBlueprint("sets", __name__, url_prefix="/api/v1/parameter-sets", tag="Parameter sets")


@cache
def shipped() -> dict[str, Cell]:
    """Every shipped cell by its id; they never change while the program runs."""
    nowhere = Path("/nonexistent")
    batteries = {name: load_cell(name, "battery", nowhere) for name in shipped_ids("batteries")}
    return batteries | {name: load_cell(name, "ultracapacitor", nowhere) for name in shipped_ids("ultracapacitors")}


@blueprint.get("")
@needs("reader")
@blueprint.output(SetList)
@blueprint.doc(summary="List the shipped parameter sets")
def list_sets() -> Any:
    """All sets."""
    return {"items": [_short(cell) for cell in shipped().values()]}


@blueprint.get("/<key>")
@needs("reader")
@blueprint.output(SetFull)
@blueprint.doc(summary="Read one parameter set with every value's unit, source and grade")
def read_set(key: str) -> Any:
    """One set."""
    cell = shipped().get(key)
    if cell is None:
        raise NotFoundError("parameter set", key)
    return {
        **_short(cell),
        "sha256": cell.sha256,
        "caveats": list(cell.caveats),
        "references": list(cell.references),
        "values": [ProvenanceView.of(entry).model_dump(mode="json") for entry in cell.provenance],
    }


def _short(cell: Cell) -> dict[str, str]:
    return {
        "id": cell.id,
        "kind": cell.kind,
        "title": cell.title,
        "chemistry": cell.chemistry,
        "parameter_grade": cell.lowest_grade,
    }
