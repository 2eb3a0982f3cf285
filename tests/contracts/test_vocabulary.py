"""The words of the trade in everything that a person reads: messages, help, pages, report, README, keys."""

import ast
import re
from functools import cache
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]

# One word a thing: what stands on the left is said as on the right. IEC 60050-482, IEC 62660, ASTM E1049, ASTM E917.
BANNED = {
    r"\bwear\b|\bworn\b": "ageing, capacity loss, at end of life",
    r"lost to (cycles|calendar)": "cyclic / calendar ageing",
    r"fails? new|cannot deliver|no longer deliver": "requirement not met",
    r"\bwhen new\b|\bof new\b|\bthe new (battery|bank|source)\b": "at the beginning of life, % of initial",
    r"\bblind to\b|does not see\b": "not modelled",
    r"\bbeware\b|likewise in": "warnings, with every strategy named",
    r"\bdearest\b|\bdearer\b": "highest cost",
    r"\brecordings?\b": "history",
    r"\bmend(s|ed|ing)?\b": "data cleaning; errors to correct",
    r"\boffer(s|ed|ing)?\b|could be: ": "suggested role",
    r"\bstamps?\b": "timestamps",
    r"\bnumerals?\b": "number format",
    r"\bthinn(ed|ing)\b": "downsampling",
    r"\bpayments?\b": "cash flows",
    r"\bmachine failed\b|made a mistake": "internal error",
    r"\bthe law('s)?\b|\bthis law\b|\bpublished law\b|\blaws\b": "ageing model",
    r"\bbeside\b": "next to",
    r"\bgoes on\b|\bholds no\b|\bas such\b": "continues; contains no",
    r"\bbest possible split\b": "least-rms split",
    r"\bfrom memory\b|\breproduced\b": "unverified, secondary source",
    r"values (run|are) (straight|held)": "linear, zero-order hold",
}
BANNED_KEYS = re.compile(r"(^|_)(bank|wear|payments|course|gain|share|heat)(_|$)|blind_to|end_of_life_by|net_present$")
KEYS_KEPT = {
    "heat_capacity_J_per_K",
    "calendar_share_fraction",
    "cyclic_share_fraction",
    "capacity_loss_share_fraction",
}


def sentences_of(path):
    """String literals with a space that are no docstrings, and the docstrings that help texts are made of."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    documented = {
        id(node.body[0].value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Module | ast.ClassDef | ast.FunctionDef)
        and node.body
        and isinstance(node.body[0], ast.Expr)
    }
    helps = "cli" in path.parts
    loose = {
        id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)
    }
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and " " in node.value:
            if id(node) in loose and not (helps and id(node) in documented):
                continue
            yield node.lineno, node.value


@cache
def read_by_people():
    return tuple(_read_by_people())


def _read_by_people():
    for package in ("lifetime", "webapi"):
        for path in sorted((ROOT / package).rglob("*.py")):
            if path.name in {"version_1.py", "upgrade.py"}:  # what older versions wrote
                continue
            for line, text in sentences_of(path):
                yield f"{path.relative_to(ROOT)}:{line}", text
        for path in sorted((ROOT / package).rglob("*.html")):
            text = re.sub(r"\{[%{#].*?[%}#]\}|<[^>]*>", " ", path.read_text(encoding="utf-8"), flags=re.DOTALL)
            yield str(path.relative_to(ROOT)), text
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    yield "README.md", re.sub(r"```.*?```|`[^`]*`", " ", readme, flags=re.DOTALL)


@pytest.mark.parametrize("word", BANNED)
def test_one_word_a_thing(word):
    pattern = re.compile(word, re.IGNORECASE)
    found = [f"{place}: {match[0]}" for place, text in read_by_people() for match in pattern.finditer(text)]
    assert not found, f"say {BANNED[word]} in place of:\n" + "\n".join(found)


def keys_of(schema):
    if isinstance(schema, dict):
        yield from schema.get("properties", {})
        for value in schema.values():
            yield from keys_of(value)
    elif isinstance(schema, list):
        for value in schema:
            yield from keys_of(value)


def test_keys_of_studies_and_results_are_spelled_one_way():
    from lifetime.results.document import ResultDocument
    from lifetime.results.row import SourceRow
    from lifetime.study.schema import Study

    keys = {key for model in (Study, ResultDocument, SourceRow) for key in keys_of(model.model_json_schema())}
    assert not {key for key in keys - KEYS_KEPT if BANNED_KEYS.search(key)}


def test_no_file_or_class_is_called_by_a_banned_word():
    names = re.compile(r"wear|offer|stamps?$|numerals|thinning|recordings|mending|payment", re.IGNORECASE)
    for package in ("lifetime", "webapi"):
        for path in sorted((ROOT / package).rglob("*.py")):
            stem = path.stem.replace("timestamps", "").replace("time_stamps", "")
            assert not names.search(stem), f"{path.relative_to(ROOT)}: name it by a word of the trade"
