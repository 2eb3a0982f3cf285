"""The schema speaks for itself: every key has its words, and the README's tables are made from it."""

from pathlib import Path
from typing import Literal

import pytest
from pydantic import BaseModel

from lifetime.history.spec import HistoryInput
from lifetime.study.outline import outline, variants
from lifetime.study.schema import Strategy, Study
from lifetime.study.tables import history_table, study_table

README = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
EVERY = [
    *outline(Study, without=frozenset({"strategy"})).walk(),
    *((f"strategy.{name}", key) for name, key in outline(Strategy, without=frozenset({"split"})).walk()),
]
NUMBERS = [(path, key) for path, key in EVERY if key.kind in ("number", "integer")]
# The endings of keys that name their unit, and the unit they stand for.
ENDINGS = {"_V": "V", "_A": "A", "_W": "W", "_Ah": "Ah", "_ohm": "ohm", "_K": "K", "_C": "°C", "_kg": "kg", "_m2": "m²"}


@pytest.mark.parametrize("table", [study_table(), history_table()], ids=["study", "history"])
def test_the_tables_of_the_readme_are_the_schemas(table):
    assert table in README, f"README.md is not up to date; python -m lifetime.study.tables prints:\n{table}"


@pytest.mark.parametrize(("path", "key"), EVERY, ids=[path for path, _ in EVERY])
def test_every_key_has_a_title_a_sentence_an_example_and_its_unit(path, key):
    assert key.title
    assert "[" not in key.title, "the unit stands in the metadata"
    assert key.description.endswith("."), path
    assert key.example is not None or key.choices, path
    for ending, unit in ENDINGS.items():
        if path.endswith(ending) and "_per_" not in path:
            assert key.unit == unit, path
    if path.endswith(("_soc", "_fraction", "_depth_of_discharge")):
        assert key.unit == "fraction", path


@pytest.mark.parametrize(("path", "key"), NUMBERS, ids=[path for path, _ in NUMBERS])
def test_an_example_lies_within_the_bounds_of_its_key(path, key):
    assert key.bounds.get("ge", -1e99) <= key.example <= key.bounds.get("le", 1e99), path
    assert key.bounds.get("gt", -1e99) < key.example < key.bounds.get("lt", 1e99), path


def test_sections_nest_and_say_whether_they_may_be_left_out():
    study = outline(Study, without=frozenset({"strategy"}))
    sections = {one.key: one for one in study.sections}
    assert sections["ultracapacitor"].optional
    assert sections["vehicle"].optional
    # A section of defaults takes the place of one left out.
    assert not sections["end_of_life"].optional
    assert not sections["battery"].optional
    assert {one.key: one.optional for one in sections["battery"].sections} == {
        "thermal": True,
        "coolant": True,
        "limits": True,
        "open_circuit": True,
        "price": False,
    }


def test_the_alternatives_of_a_split_are_told_apart_by_their_rule():
    rules = variants(Strategy, "split")
    assert len(rules) == 9
    assert "rule" not in {key.key for one in rules.values() for key in one.keys}
    assert {key.kind for key in rules["lookup"].keys} >= {"numbers", "matrix"}
    assert [column.kind for key in rules["state_table"].keys if key.kind == "rows" for column in key.columns] == [
        "choice",
        "choice",
        "number",
    ]


def test_a_key_without_words_falls_back_to_its_name():
    class Row(BaseModel):
        how: Literal["a", "b"] = "a"

    class Bare(BaseModel):
        some_key_V: float | None = None
        many: float | tuple[float, ...]
        rows: tuple[Row, ...]

    keys = {key.key: key for key in outline(Bare).keys}
    assert keys["some_key_V"].title == "Some key V"
    assert not keys["some_key_V"].required
    assert (keys["many"].kind, keys["many"].one_allowed, keys["many"].required) == ("numbers", True, True)
    assert keys["rows"].columns[0].choices == ("a", "b")


def test_a_historys_columns_are_marked_as_such():
    marked = {key.key for key in outline(HistoryInput).keys if key.more.get("column")}
    sample = HistoryInput(file="f", time="t", current="i", voltage="u", temperature="T", speed="v")
    assert set(sample.columns()) <= marked
    assert {"charge_current", "discharge_current", "mode", "date", "phase_currents", "phase_voltages"} <= marked
