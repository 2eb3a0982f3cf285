"""The suggested study entry is opened before it is shown."""

from pathlib import Path

import pytest

from lifetime.errors import HistoryError
from lifetime.history.inspection.file_report import describe_file
from lifetime.history.open import open_history
from lifetime.history.spec import HistoryInput

SHARED = Path(__file__).parents[4] / "shared" / "data"
FOLDERS = ("messy_exports", "messy_exports_2", "cell_nissan_leaf_bitrode", "ev_trips_nissan_leaf")
NO_LOGS = {".md", ".dbc"}
FILES = sorted(path for folder in FOLDERS for path in (SHARED / folder).glob("*.*") if path.suffix not in NO_LOGS)


def errors(report):
    return [found for found in report.findings if found.severity == "error"]


def test_an_entry_that_a_study_reads(write, read):
    report = describe_file(write("time [s],I [A]\n0,1\n1,2\n2,3\n"))
    assert errors(report) == []
    assert report.study_keys is not None


def test_an_error_code_is_said_before_a_study_meets_it(write):
    """65535 A is a sensor's "no value"; it is beyond no limit of the checks, and a study refuses 1e15 A."""
    report = describe_file(write("time [s],I [A]\n0,1\n1,1e16\n2,3\n"))
    (error,) = errors(report)
    assert "a study refuses the suggested entry as it stands" in error.message
    assert error.place == 'row 3, column "I [A]"'
    assert "drop_bad_rows" in error.remedy


def test_keys_that_contradict_each_other_are_not_shown(write, monkeypatch):
    """Whatever suggests a column for two quantities: its entry is held back, and the reason given."""
    from lifetime.history.inspection import file_report

    monkeypatch.setattr(
        file_report, "suggested_keys", lambda *_, **__: {"file": "log.csv", "time": "time [s]", "current": "time [s]"}
    )
    report = describe_file(write("time [s],I [A]\n0,1\n1,2\n2,3\n"))
    assert report.study_entry is None
    assert any('column "time [s]" is named for two quantities' in error.message for error in errors(report))


def test_a_unit_that_only_a_person_knows_is_no_reason_to_refuse(write):
    """298 is a temperature in kelvin; as degrees Celsius it would be refused, but nobody said it is."""
    report = describe_file(write("time [s],I [A],Temperature\n0,1,298\n1,2,299\n2,3,298\n"))
    assert report.study_keys["temperature_unit"] == "?"
    assert errors(report) == []


def test_numbers_that_are_a_temperature_in_no_unit_are_not_suggested(write):
    """6280.4 throughout is what a dead register sends; it is no pack's temperature in °C, K or °F."""
    report = describe_file(write("time [s],I [A],Temperature\n0,1,6280.4\n1,2,6280.4\n2,3,6280.4\n"))
    assert "temperature" not in report.study_keys
    (one,) = [one for one in report.candidates if one.role == "temperature"]
    assert "in no unit known here" in one.objection


@pytest.mark.parametrize("text", ['{"a": [1, 2], "b": [3, 4]}\n', '{"name": "x"}\n{"name": "y"}\n', "[[1, 2]]\n"])
def test_a_document_is_refused_at_once(write, text):
    with pytest.raises(HistoryError, match="JSON document|JSON objects without a number"):
        describe_file(write(text))


def refusal(report):
    """What opening says once a person has filled in what is asked for; channels of unknown unit are left out."""
    keys = dict(report.study_keys)
    for quantity in ("voltage", "temperature"):
        if keys.get(f"{quantity}_unit") == "?":
            del keys[quantity], keys[f"{quantity}_unit"]
    for found in report.suggestions:
        if keys.get(f"{found.role}_format") == "?":
            keys[f"{found.role}_format"] = found.patterns[0]
    answers = {"time_unit": "s", "current_unit": "A", "speed_unit": "km/h", "discharge_is": "positive"}
    try:
        open_history(HistoryInput(**{k: answers[k] if v == "?" else v for k, v in keys.items()}), Path())
    except HistoryError as error:
        return error
    return None


@pytest.mark.skipif(not FILES, reason="the shared measured files are absent")
@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name)
def test_measured_files_suggest_what_a_study_takes(path):
    """The suggested entry is read, or what a study refuses has been said as an error."""
    try:
        report = describe_file(path)
    except HistoryError as refused:
        report, remedy = None, refused.remedy
    if report is None:
        assert remedy
    elif report.study_keys is not None:
        assert refusal(report) is None or errors(report)
