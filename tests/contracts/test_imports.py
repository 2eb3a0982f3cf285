"""Imports run one way; the arrows stand in DEVELOPERS.md, and this test holds them."""

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]

# Rooms from the bottom up. A module may import from its own room and from any room above it in this list.
ROOMS = [
    ["lifetime.constants", "lifetime.errors", "lifetime.notices", "lifetime.text", "lifetime.version"],
    ["lifetime.units", "lifetime.checks", "lifetime.validation", "lifetime.toml_text", "lifetime.ranges"],
    ["lifetime.section", "lifetime.keys"],
    ["lifetime.costing", "lifetime.ageing"],
    ["lifetime.packs"],
    ["lifetime.history.block", "lifetime.history.key_texts", "lifetime.history.machine", "lifetime.history.record"],
    ["lifetime.history.formats"],
    ["lifetime.history.spec"],
    ["lifetime.history.mapping"],
    ["lifetime.history.cleaning"],
    ["lifetime.history.inspection"],
    ["lifetime.history"],
    ["lifetime.stress"],
    ["lifetime.split", "lifetime.projection"],
    ["lifetime.study"],
    ["lifetime.results"],
    ["lifetime.assessment"],
    ["lifetime.sweep"],
    ["lifetime.report"],
    ["lifetime.notebook"],
    ["lifetime.cli"],
    ["webapi.settings", "webapi.errors", "webapi.types", "webapi.file_rights"],
    ["webapi.database"],
    ["webapi.models"],
    ["webapi.store"],
    ["webapi.services"],
    ["webapi"],
]


def room_of(module):
    matches = [
        (len(name), level)
        for level, names in enumerate(ROOMS)
        for name in names
        if module == name or module.startswith(name + ".")
    ]
    return max(matches)[1] if matches else None


def modules():
    for package in ("lifetime", "webapi"):
        for path in sorted((ROOT / package).rglob("*.py")):
            parts = path.relative_to(ROOT).with_suffix("").parts
            yield ".".join(parts[:-1] if parts[-1] == "__init__" else parts), path


def imports(path):
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            yield node.module


@pytest.mark.parametrize(("module", "path"), list(modules()), ids=[name for name, _ in modules()])
def test_imports_run_one_way(module, path):
    if module in {"lifetime", "webapi"}:
        return
    own = room_of(module)
    assert own is not None, f"{module} stands in no room; add it to ROOMS and to DEVELOPERS.md"
    for name in imports(path):
        if name.split(".")[0] in {"lifetime", "webapi"} and name not in {"lifetime", "webapi"}:
            other = room_of(name)
            assert other is not None, f"{module} imports {name}, which stands in no room"
            assert other <= own, f"{module} imports {name}, which stands above it"


@pytest.mark.parametrize(("module", "path"), list(modules()), ids=[name for name, _ in modules()])
def test_the_library_knows_neither_web_nor_database(module, path):
    if not module.startswith("lifetime"):
        return
    forbidden = {"webapi", "flask", "apiflask", "sqlalchemy", "alembic"}
    assert not {name.split(".")[0] for name in imports(path)} & forbidden


NEVER = {
    # What is shown is read from the result document alone, so that a stored result shows what a fresh one does.
    "lifetime.report": ("lifetime.assessment", "lifetime.sweep", "lifetime.study", "lifetime.results.records"),
    # A document costs as much time as several candidates; a sweep reads the records.
    "lifetime.sweep": ("lifetime.results.document", "lifetime.results.row", "lifetime.report"),
    "lifetime.assessment": ("lifetime.results.document", "lifetime.results.row"),
}


@pytest.mark.parametrize("room", NEVER)
def test_what_a_room_never_imports(room):
    found = {
        (module, name)
        for module, path in modules()
        if module.startswith(room)
        for name in imports(path)
        if name.startswith(NEVER[room])
    }
    assert found == set()


def test_the_top_level_holds_what_the_design_lists():
    allowed = {
        "README.md",
        "DEVELOPERS.md",
        "pyproject.toml",
        "lifetime",
        "webapi",
        "migrations",
        "tests",
        "profiles",
        "LICENSE",
    }
    names = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")}
    # Build leftovers are ignored by git and are not part of the tree.
    assert names - {"build", "dist", "packwear.egg-info", "__pycache__"} <= allowed


@pytest.mark.parametrize(("module", "path"), list(modules()), ids=[name for name, _ in modules()])
def test_files_stay_small_enough_to_be_one_room(module, path):
    assert len(path.read_text(encoding="utf-8").splitlines()) <= 400, f"{module} is too long to be one room"
