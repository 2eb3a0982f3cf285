"""Warnings of several strategies in one line: everybody it concerns is named, with the value of each."""

import json
from pathlib import Path

import pytest

from lifetime.report.gathered_warnings import gathered_warnings
from lifetime.results.upgrade import upgrade
from lifetime.results.view import Message

STORED = Path(__file__).parents[1] / "results" / "version_1" / "histories.json"


@pytest.fixture
def warned():
    """A document of three strategies whose batteries warn as told."""
    row = json.loads(STORED.read_text(encoding="utf-8"))["assessments"][0]
    document = upgrade({"document": row["document"], "detail": row["detail"]})

    def of(*texts):
        strategies = [
            one.model_copy(
                update={
                    "name": name,
                    "ultracapacitor": None,
                    "warnings": (),
                    "battery": one.battery.model_copy(update={"warnings": (Message(code="code", message=text),)}),
                }
            )
            for one, name, text in zip(document.strategies, ("A", "B", "C"), texts, strict=False)
        ]
        found = gathered_warnings(document.model_copy(update={"warnings": (), "strategies": tuple(strategies)}))
        return [(one.where, one.message) for one in found]

    return of


def test_the_same_words_are_said_once_for_all(warned):
    assert warned("It is hot.", "It is hot.", "It is hot.") == [("Battery, “A”, “B”, “C”", "It is hot.")]


def test_one_figure_that_differs_is_given_for_each(warned):
    found = warned("12 % lie below 5 C.", "3.5 % lie below 5 C.", "1,200 % lie below 5 C.")
    assert found == [("Battery, “A”", "12 % lie below 5 C. Instead of 12 it is 3.5 for “B”, 1,200 for “C”.")]


def test_a_comma_after_a_figure_is_not_part_of_it(warned):
    found = warned("After 12, at the latest.", "After 1,200, at the latest.")
    assert found == [("Battery, “A”", "After 12, at the latest. Instead of 12 it is 1,200 for “B”.")]


def test_several_figures_that_differ_are_told_in_full(warned):
    found = warned("12 % lie below 5 C.", "3 % lie below 6 C.", "12 % lie below 5 C.")
    assert found == [("Battery, “A”, “C”", "12 % lie below 5 C."), ("Battery, “B”", "3 % lie below 6 C.")]


def test_other_words_are_another_line(warned):
    assert [where for where, _ in warned("It is hot.", "It is cold.")] == ["Battery, “A”", "Battery, “B”"]
