"""Public functions, classes and methods say what they do, with every argument and its unit."""

import ast
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]

UNITS = "A|V|s|W|K|C|Ah|As|A2s|ohm|F|J|kWh|kg|km|m2|m_s|fraction|soc|years|per_year|K_per_W|J_per_K|W_per_s"
WITH_UNIT = re.compile(rf".*_({UNITS})$|resistance_ratio$|years$")
"""Names of numbers that end in a unit, or in what is counted as one: 1 and per cent look alike."""


def public(body, path):
    """Every public class, function and method below, by its place."""
    for node in body:
        if isinstance(node, ast.FunctionDef | ast.ClassDef) and not node.name.startswith("_"):
            place = f"{path}.{node.name}" if ":" in path else f"{path}:{node.name}"
            yield place, node
            if isinstance(node, ast.ClassDef):
                yield from public(node.body, place)


def public_definitions():
    for package in ("lifetime", "webapi"):
        for path in sorted((ROOT / package).rglob("*.py")):
            tree = ast.parse(path.read_text(encoding="utf-8"))
            assert ast.get_docstring(tree) is not None or path.name == "__init__.py", f"{path.name} has no docstring"
            yield from public(tree.body, str(path.relative_to(ROOT)))


DEFINITIONS = dict(public_definitions())
FUNCTIONS = [name for name, node in DEFINITIONS.items() if isinstance(node, ast.FunctionDef)]


@pytest.mark.parametrize("name", DEFINITIONS)
def test_public_names_have_a_docstring(name):
    assert ast.get_docstring(DEFINITIONS[name]), f"{name} has no docstring"


def described(node):
    """What the Args section of a docstring says, by argument; None where there is no such section."""
    text = ast.get_docstring(node) or ""
    if "Args:\n" not in text:
        return None
    found, name = {}, ""
    for line in text.split("Args:\n", 1)[1].split("\n\n", 1)[0].splitlines():
        if not line.startswith("    "):
            break
        if line[4] != " ":
            name, _, words = line.strip().partition(":")
            found[name] = words
        else:
            found[name] += f" {line.strip()}"
    return found


def arguments(node):
    """Every argument of a function, or of making an object of a class, with its annotation."""
    if isinstance(node, ast.ClassDef):
        made = [one for one in node.body if isinstance(one, ast.FunctionDef) and one.name == "__init__"]
        if made:
            return arguments(made[0])
        fields = [one for one in node.body if isinstance(one, ast.AnnAssign) and isinstance(one.target, ast.Name)]
        return {one.target.id: ast.unparse(one.annotation) for one in fields}
    every = [
        *node.args.posonlyargs,
        *node.args.args,
        *([node.args.vararg] if node.args.vararg else []),
        *node.args.kwonlyargs,
        *([node.args.kwarg] if node.args.kwarg else []),
    ]
    return {
        one.arg: ast.unparse(one.annotation) if one.annotation else ""
        for one in every
        if one.arg not in {"self", "cls"}
    }


@pytest.mark.parametrize("name", FUNCTIONS)
def test_an_args_section_names_every_argument_and_no_other(name):
    said = described(DEFINITIONS[name])
    if said is not None:
        assert list(said) == list(arguments(DEFINITIONS[name])), f"{name}: docstring and signature differ"


def is_contract(node):
    """A protocol, or an abstract class: others do what its methods say."""
    if not isinstance(node, ast.ClassDef):
        return False
    if {"Protocol", "ABC"} & {ast.unparse(one) for one in node.bases}:
        return True
    methods = (one for one in node.body if isinstance(one, ast.FunctionDef))
    return any("abstractmethod" in map(ast.unparse, method.decorator_list) for method in methods)


CONTRACTS = {
    (method.name, argument): words
    for node in DEFINITIONS.values()
    if is_contract(node)
    for method in node.body
    if isinstance(method, ast.FunctionDef)
    for argument, words in (described(method) or {}).items()
}
"""What contracts say of the arguments of their methods; those who keep to them need not say it again."""


def has_unit(words):
    return re.search(r"\[[^\]]+\]", words) is not None


def without_unit(name):
    """Numbers whose name promises a unit and whose description has none in square brackets."""
    node = DEFINITIONS[name]
    said = described(node)
    if isinstance(node, ast.ClassDef) and said is None:
        return []  # a schema or settings class: its keys are described where the user looks, in the README
    is_method = isinstance(node, ast.FunctionDef) and "." in name.partition(":")[2]
    return [
        argument
        for argument, kind in arguments(node).items()
        if WITH_UNIT.match(argument)
        and re.search(r"\b(float|int|FloatArray|NDArray)\b", kind)
        and not has_unit((said or {}).get(argument) or (CONTRACTS.get((node.name, argument), "") if is_method else ""))
    ]


@pytest.mark.parametrize("name", list(DEFINITIONS))
def test_a_number_named_by_its_unit_says_its_unit(name):
    missing = without_unit(name)
    assert missing == [], f"{name}: {', '.join(missing)} must have a unit in square brackets, such as [A] or [0..1]"
