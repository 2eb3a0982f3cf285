"""Public functions and classes say what they do, with every argument and its unit."""

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


def public_definitions():
    for package in ("lifetime", "webapi"):
        for path in sorted((ROOT / package).rglob("*.py")):
            tree = ast.parse(path.read_text(encoding="utf-8"))
            assert ast.get_docstring(tree) is not None or path.name == "__init__.py", f"{path.name} has no docstring"
            for node in tree.body:
                if isinstance(node, ast.FunctionDef | ast.ClassDef) and not node.name.startswith("_"):
                    yield f"{path.relative_to(ROOT)}:{node.name}", node


DEFINITIONS = dict(public_definitions())


@pytest.mark.parametrize("name", DEFINITIONS)
def test_public_names_have_a_docstring(name):
    assert ast.get_docstring(DEFINITIONS[name]), f"{name} has no docstring"


def arguments(node):
    every = [
        *node.args.posonlyargs,
        *node.args.args,
        *([node.args.vararg] if node.args.vararg else []),
        *node.args.kwonlyargs,
    ]
    names = [one.arg for one in every]
    return [name for name in names if name not in {"self", "cls"}]


@pytest.mark.parametrize("name", [name for name, node in DEFINITIONS.items() if isinstance(node, ast.FunctionDef)])
def test_an_args_section_names_every_argument_and_no_other(name):
    node = DEFINITIONS[name]
    text = ast.get_docstring(node)
    if "Args:" not in text:
        return
    section = text.split("Args:\n", 1)[1].split("\n\n", 1)[0]
    named = [line.strip().split(":")[0] for line in section.splitlines() if line.startswith("    ") and line[4] != " "]
    rest = [node.args.kwarg.arg] if node.args.kwarg else []
    assert named == arguments(node) + rest, f"{name}: the docstring's arguments differ from the signature's"
