"""Many files as one history."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from lifetime.errors import HistoryError
from lifetime.history.inspection.file_report import describe_file
from lifetime.history.open import open_history
from lifetime.history.spec import HistoryInput

HEADER = "time_s,current_A\n"
SPEC = HistoryInput(file="log_*.csv", time="time_s", current="current_A")


def rows(start, stop):
    return "".join(f"{k},{k % 11 - 5}\n" for k in range(start, stop))


def write_all(folder, **files):
    for name, text in files.items():
        (folder / f"log_{name}.csv").write_text(HEADER + text, encoding="utf-8")


def collected(history):
    blocks = list(history.blocks())
    return np.concatenate([b.time_s for b in blocks]), np.concatenate([b.current_A for b in blocks])


def test_files_come_in_the_order_of_their_times(tmp_path):
    write_all(tmp_path, b=rows(0, 5), a=rows(5, 9), c=rows(9, 12))
    history = open_history(SPEC, tmp_path)
    assert history.record.files == ("log_b.csv", "log_a.csv", "log_c.csv")
    assert collected(history)[0].tolist() == list(range(12))
    assert "several_files" in {notice.code for notice in history.notices}


def test_numbers_in_names_count_as_numbers(tmp_path):
    write_all(tmp_path, **{"10": rows(0, 5), "9": rows(0, 5), "2": rows(0, 5)})
    history = open_history(SPEC.model_copy(update={"files_follow": "one_after_another"}), tmp_path)
    assert history.record.files == ("log_2.csv", "log_9.csv", "log_10.csv")
    # One more step of a second between the files.
    assert collected(history)[0].tolist() == list(range(15))


@pytest.mark.parametrize("order", ["by_time", "one_after_another"])
def test_a_time_column_that_is_not_there_is_refused_by_name(tmp_path, order):
    write_all(tmp_path, a=rows(0, 5), b=rows(5, 9))
    wrong = SPEC.model_copy(update={"time": "clock_s", "files_follow": order})
    with pytest.raises(HistoryError, match="clock_s.*no such column for time"):
        open_history(wrong, tmp_path)


@settings(deadline=None, max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(cuts=st.sets(st.integers(1, 299), max_size=6))
def test_any_split_into_files_gives_the_same_history(tmp_path_factory, cuts):
    folder = tmp_path_factory.mktemp("split")
    (folder / "whole.csv").write_text(HEADER + rows(0, 300), encoding="utf-8")
    edges = [0, *sorted(cuts), 300]
    for number, (start, stop) in enumerate(pairwise(edges)):
        write_all(folder, **{str(number): rows(start, stop)})
    whole = open_history(SPEC.model_copy(update={"file": "whole.csv"}), folder)
    split = open_history(SPEC, folder)
    assert split.data_sha256 == whole.data_sha256
    for one, other in zip(collected(split), collected(whole), strict=True):
        assert np.array_equal(one, other)
    assert split.samples == whole.samples


def test_the_source_rests_between_files(tmp_path):
    write_all(tmp_path, a="0,5\n1,7\n2,9\n", b="5000,3\n5001,3\n")
    history = open_history(SPEC, tmp_path)
    time, current = collected(history)
    assert time.tolist() == [0.0, 1.0, 2.0, 2.0, 5000.0, 5000.0, 5001.0]
    assert current.tolist() == [5.0, 7.0, 9.0, 0.0, 0.0, 3.0, 3.0]
    assert history.samples == 7
    # A straight line through the gap would invent 6 A for 83 minutes; at rest nothing flows (case C26).
    assert np.trapezoid(current, time) == pytest.approx(5 / 2 + 7 + 9 / 2 + 3)


def test_a_gap_within_a_file_is_still_refused(tmp_path):
    write_all(tmp_path, a="0,5\n1,7\n2,9\n", b="5000,3\n5001,3\n9000,4\n")
    with pytest.raises(HistoryError, match="a gap of 3999 s") as caught:
        open_history(SPEC, tmp_path)
    assert (caught.value.file, caught.value.row) == ("log_b.csv", 4)
    bridged = open_history(SPEC.model_copy(update={"clean": ("bridge_gaps",)}), tmp_path)
    assert collected(bridged)[1].tolist() == [5.0, 7.0, 9.0, 0.0, 0.0, 3.0, 3.0, 4.0]


def test_messages_name_the_file_and_its_row(tmp_path):
    write_all(tmp_path, a=rows(0, 5), b="5,1\n6,oops\n")
    with pytest.raises(HistoryError, match="oops") as caught:
        open_history(SPEC, tmp_path)
    assert (caught.value.file, caught.value.row) == ("log_b.csv", 3)
    write_all(tmp_path, a=rows(0, 9), b=rows(3, 6))
    with pytest.raises(HistoryError, match="runs backwards") as caught:
        open_history(SPEC, tmp_path)
    assert (caught.value.file, caught.value.row) == ("log_b.csv", 2)
    (tmp_path / "log_b.csv").write_text("time_s,amps\n9,1\n", encoding="utf-8")
    with pytest.raises(HistoryError, match="no such column"):
        open_history(SPEC, tmp_path)
    with pytest.raises(HistoryError, match="no file fits"):
        open_history(SPEC.model_copy(update={"file": "nothing_*.csv"}), tmp_path)


def test_columns_may_stand_elsewhere_in_each_file(tmp_path):
    write_all(tmp_path, a="0,5\n1,7\n")
    (tmp_path / "log_b.csv").write_text("note,current_A,time_s\nx,8,2\ny,9,3\n", encoding="utf-8")
    assert collected(open_history(SPEC, tmp_path))[1].tolist() == [5.0, 7.0, 8.0, 9.0]


def test_check_takes_a_pattern(tmp_path):
    write_all(tmp_path, a=rows(0, 50), b=rows(50, 90))
    report = describe_file(tmp_path / "log_*.csv")
    assert (report.rows, report.files) == (90, ("log_a.csv", "log_b.csv"))
    assert report.time.span == 89.0


def findings(folder):
    report = describe_file(folder / "log_*.csv")
    return report, [found.message for found in report.findings]


def test_files_that_each_start_at_zero(tmp_path):
    """Three files of 10 A, 5 A and 30 A for 540 s: one after another 6.75 Ah, and mixed by time about half of it."""
    for number, current in enumerate((10, 5, 30), start=1):
        write_all(tmp_path, **{str(number): "".join(f"{t},{current}\n" for t in range(541))})
    report, messages = findings(tmp_path)
    assert report.study_keys["files_follow"] == "one_after_another"
    assert report.time.backward_steps == 0
    assert any("each file starts its clock anew" in message for message in messages)
    # By hand: 45 A for 540 s are 6.75 Ah; the two steps of a second between the files add 7.5 and 17.5 A s.
    assert any(f"{6.75 + 25 / 3600:.3g} Ah with positive current" in message for message in messages)
    with pytest.raises(HistoryError, match="time runs backwards") as caught:
        open_history(SPEC, tmp_path)
    assert 'files_follow = "one_after_another"' in caught.value.remedy
    assert "would mix the rows" in caught.value.remedy
    follow = SPEC.model_copy(update={"files_follow": "one_after_another"})
    time, current = collected(open_history(follow, tmp_path))
    assert np.trapezoid(current, time) / 3600.0 == pytest.approx(6.75 + 25 / 3600)


def test_files_are_looked_at_in_the_order_of_their_times(tmp_path):
    write_all(tmp_path, b=rows(0, 50), a=rows(50, 90))
    report, _ = findings(tmp_path)
    assert report.files == ("log_b.csv", "log_a.csv")
    assert (report.time.span, report.time.backward_steps) == (89.0, 0)
    assert "files_follow" not in report.study_keys


def test_a_column_that_one_file_lacks_stops_nobody(tmp_path):
    header = "time_s,current_A,lamp,dial\n"
    (tmp_path / "log_a.csv").write_text(header + "".join(f"{t},1,2,3\n" for t in range(9)), encoding="utf-8")
    second = "time_s,current_A,dial,dial\n" + "".join(f"{t},1,2,3\n" for t in range(9, 20))
    (tmp_path / "log_b.csv").write_text(second, encoding="utf-8")
    report, messages = findings(tmp_path)
    assert report.rows == 20
    assert "it was not looked at: log_b.csv does not have it." in messages
    assert "it was not looked at: log_b.csv has it 2 times." in messages
    assert open_history(SPEC, tmp_path).samples == 20


@pytest.mark.parametrize("order", ["by_time", "one_after_another"])
def test_a_name_twice_in_one_file_is_said_to_be_twice(tmp_path, order):
    write_all(tmp_path, a=rows(0, 5))
    (tmp_path / "log_b.csv").write_text("time_s,current_A,current_A\n5,1,1\n6,1,1\n", encoding="utf-8")
    with pytest.raises(HistoryError, match="2 columns .*have this name") as caught:
        list(open_history(SPEC.model_copy(update={"files_follow": order}), tmp_path).blocks())
    assert caught.value.file == "log_b.csv"
