"""Places in a study: as a person writes them, and where plain data ends."""

import pytest

from lifetime.study.paths import leaves, path_words


@pytest.mark.parametrize(
    ("path", "words"),
    [
        ((), ""),
        (("title",), "title"),
        (("battery", "price", "purchase"), "battery.price.purchase"),
        (("strategy", 1, "split", "time_constant_s"), "strategy[2].split.time_constant_s"),
        (("strategy", 0, "split", "rows", 2), "strategy[1].split.rows[3]"),
        ((0, "name"), "[1].name"),
    ],
)
def test_lists_are_counted_from_one(path, words):
    assert path_words(path) == words


def test_everything_that_is_no_table_and_no_list_is_a_leaf():
    data = {"a": 1, "b": {"c": "x", "d": [True, {"e": None}]}, "empty": {}, "none": []}
    assert list(leaves(data)) == [
        (("a",), 1),
        (("b", "c"), "x"),
        (("b", "d", 0), True),
        (("b", "d", 1, "e"), None),
    ]


def test_a_path_may_begin_somewhere():
    assert list(leaves({"c": 1}, ("b", 2))) == [(("b", 2, "c"), 1)]
    assert list(leaves("x")) == [((), "x")]


@pytest.mark.parametrize(
    "spread",
    [{"values": [1, 2]}, {"from": 1, "to": 2, "steps": 3}, {"from": 1}, {"steps": 3}, {"values": [1], "scale": "log"}],
)
def test_a_range_is_one_leaf(spread):
    assert list(leaves({"battery": {"series": spread}})) == [(("battery", "series"), spread)]


@pytest.mark.parametrize("table", [{"to": 1}, {"scale": "log"}, {"from": 1, "until": 2}])
def test_a_table_with_other_keys_is_none(table):
    assert list(leaves(table)) == [((key,), value) for key, value in table.items()]
