"""Faults in a person's words: the place as it stands in the file, what is wrong, and what to do."""

import pytest

from lifetime.errors import Fault
from lifetime.study.faults import with_question_marks

SPLIT = "strategy[1].split"
FILL_IN = 'is still "?"; it is yours to fill in.'


@pytest.mark.parametrize(
    ("changes", "place", "message"),
    [
        ({"battery.seires": 1}, "battery.seires", "is not a key of a study file. Check its spelling, or remove it."),
        ({f"{SPLIT}.limit": 1}, f"{SPLIT}.limit", "is not a key of a study file. Check its spelling, or remove it."),
        ({SPLIT: {}}, f"{SPLIT}.rule", 'is missing: name a rule, for example rule = "low_pass".'),
        ({"battery.series": "2"}, "battery.series", "must be a valid integer, got '2'."),
        ({"service.years": 51}, "service.years", "must be less than or equal to 50, got 51."),
        ({"battery": 3}, "battery", "must be a table, got 3."),
        ({"battery.price": [1]}, "battery.price", "must be a table, got [1]."),
        ({"strategy": []}, "strategy", "needs at least 1 entry."),
        (
            {f"{SPLIT}": {"rule": "low_pass", "time_constant_s": 0}},
            f"{SPLIT}.time_constant_s",
            "must be greater than or equal to 0.000001, got 0.",
        ),
    ],
)
def test_place_and_words(faults, changes, place, message):
    assert faults(changes) == {place: message}


def test_an_unknown_rule_is_answered_with_those_there_are(faults):
    (found,) = faults({SPLIT: {"rule": "dice"}}).items()
    assert found[0] == f"{SPLIT}.rule"
    assert found[1].startswith("must be one of 'battery_only', 'low_pass', ")
    assert found[1].endswith("got 'dice'.")


@pytest.mark.parametrize("spread", [{"from": 1, "to": 2, "steps": 3}, {"values": [1, 2]}])
def test_a_range_where_one_number_is_needed(faults, spread):
    said = {"battery.series": "is a range, and one number is needed here. packwear sweep assesses ranges."}
    assert faults({"battery.series": spread}) == said


def test_a_table_that_is_no_range_is_shown_as_none(faults):
    assert faults({"battery.series": {"number": 2}}) == {"battery.series": "must be a valid integer."}


def test_an_entry_at_fault_is_not_counted_as_missing(faults):
    strategy = {"name": "", "battery": {"file": "log.csv", "time": "t_s", "current": "i_A"}}
    assert list(faults({"strategy": [strategy]})) == ["strategy[1].name"]
    curve = {"battery.open_circuit.soc": [0.0, 2.0], "battery.open_circuit.voltage_V": [3.0, 4.0]}
    assert list(faults(curve)) == ["battery.open_circuit.soc[2]"]


def test_every_fault_is_named_at_once(faults, gone):
    found = faults({"title": gone, "battery.series": 0, "cost.discount_rate": -1, "colour": 1})
    assert sorted(found) == ["battery.series", "colour", "cost.discount_rate", "title"]


class TestQuestionMarks:
    def test_each_is_named_once_and_first(self):
        data = {"title": "?", "battery": {"series": "?"}, "cost": {"currency": "EUR"}}
        other = Fault("cost.discount_rate", "is missing.")
        at_a_mark = [Fault("battery.series", "must be a valid integer."), Fault("battery.series[1]", "no.")]
        found = with_question_marks(data, [other, *at_a_mark])
        assert found == [Fault("title", FILL_IN), Fault("battery.series", FILL_IN), other]

    def test_a_key_that_begins_alike_keeps_its_fault(self):
        other = Fault("battery.series_resistance", "is not a key.")
        assert with_question_marks({"battery": {"series": "?"}}, [other]) == [Fault("battery.series", FILL_IN), other]

    def test_a_column_or_a_strategy_may_be_called_so(self):
        history = {"file": "log.csv", "time": "?", "discharge_is": "?", "current_unit": "?"}
        found = with_question_marks({"strategy": [{"name": "?", "battery": history}]}, [])
        assert [one.place for one in found] == ["strategy[1].battery.discharge_is", "strategy[1].battery.current_unit"]

    def test_without_any_the_faults_stay(self):
        faults = [Fault("title", "is missing.")]
        assert with_question_marks({"title": "What?"}, faults) == faults
