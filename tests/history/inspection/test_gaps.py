"""Gaps: what current flows beside them, what each remedy does to the charge, and logs that are only written seldom."""

import re
from pathlib import Path

import numpy as np
import pytest

from lifetime.errors import HistoryError
from lifetime.history.inspection.file_report import describe_file

SHARED = Path(__file__).parents[4] / "shared" / "data"
CYCLER = SHARED / "messy_exports_2" / "cyc_biologic_mb.csv"
PULSES = SHARED / "cell_nissan_leaf_bitrode" / "NissanLeaf-cell-Low-Current-HPPC-25C-2.csv"


def seldom_written():
    """Ten rounds of 10 A out and 8 A in, an hour each: dense at each step, then a row every 60 s, then at rest.

    By hand: 10 rounds of 3600 s give 100 Ah out and 80 Ah in; a change of 0.1 s adds 0.5 A s and the like.
    """
    rows, start = [], 0.0
    for _ in range(10):
        for current in (10.0, 0.0, -8.0, 0.0):
            dense = start + 0.1 * np.arange(1, 101)
            sparse = np.arange(start + 60.0, start + 3600.5, 60.0)
            rows += [(t, current) for t in (*dense, *sparse)]
            start += 3600.0
    return "time_s,current_A\n" + "".join(f"{t:.1f},{current}\n" for t, current in rows)


def finding(report, words):
    return next(found for found in report.findings if words in found.message)


def test_a_cycler_that_writes_seldom_needs_no_remedy(write, read, gather):
    path = write(seldom_written())
    report = describe_file(path)
    assert report.time.gaps == 0
    assert not [found for found in report.findings if "gap" in found.message or "rest_in_gaps" in found.remedy]
    note = finding(report, "step is uneven")
    # 40 stretches with steps of 50 s, then 59 of 60 s: 2400 steps; 3590 of 3600 s of each hour lie within them.
    assert note.number == 2400
    assert "99.7 Ah with positive current and 79.8 Ah with negative current" in note.message
    values = gather(read(path))
    charge_Ah = np.diff(values["time_s"]) * 0.5 * (values["current_A"][1:] + values["current_A"][:-1]) / 3600.0
    assert charge_Ah[charge_Ah > 0.0].sum() == pytest.approx(100.0, rel=1e-4)
    assert charge_Ah[charge_Ah < 0.0].sum() == pytest.approx(-80.0, rel=1e-4)
    assert "uneven_steps" in [notice.code for notice in read(path).notices]


def test_rest_is_refused_where_current_flows(write, read):
    with pytest.raises(HistoryError, match="gaps in which current flows") as caught:
        read(write(seldom_written()), clean=["rest_in_gaps"])
    assert "at rest in the gaps, 0.278 Ah discharged" in caught.value.problem  # 10 rounds of 10 s at 10 A
    assert 'Leave "rest_in_gaps" out' in caught.value.remedy


DRIVE = "".join(f"{t},{10 + t % 7}\n" for t in range(200))


def test_a_gap_with_current_on_both_sides(write, read):
    """200 s at 10 to 16 A, then 2000 s unseen, then 5 A: at least 5 A on both sides."""
    path = write(f"time_s,current_A\n{DRIVE}2199,5\n2200,5\n")
    found = finding(describe_file(path), "1 gap")
    # By hand: beside it 199 s from 10 A (t = 0) to 13 A (t = 199): 28 rounds of 91 A s, 10, 11, 12, 13, less half the
    # first and last; in the gap 0.5 * (13 + 5) A * 2000 s = 18,000 A s = 5 Ah; 5 A s after it.
    beside_As = 28 * 91 + 10 + 11 + 12 + 13 - 0.5 * (10 + 13) + 5
    assert "Current flows on both sides of 1 gap: 5 A." in found.message
    assert f"Bridged, the charge is {(beside_As + 18_000) / 3600:.2f} Ah" in found.message
    assert f"at rest in the gaps, {beside_As / 3600:.3f} Ah" in found.message
    assert "rest_in_gaps" not in found.remedy
    assert "bridge_gaps" in found.remedy
    with pytest.raises(HistoryError) as caught:
        read(path)
    assert "rest_in_gaps" not in caught.value.remedy
    with pytest.raises(HistoryError, match="in which current flows"):
        read(path, clean=["rest_in_gaps"])
    assert read(path, clean=["bridge_gaps"]).samples == 202


def test_a_gap_at_rest_offers_both_remedies(write, read):
    path = write(f"time_s,current_A\n{DRIVE}200,0\n2200,0\n2201,0\n")
    found = finding(describe_file(path), "1 gap")
    assert "on both sides" not in found.message
    assert "rest_in_gaps" in found.remedy
    assert "bridge_gaps" in found.remedy
    assert read(path, clean=["rest_in_gaps"]).record.gaps == 1


def test_lost_rows_of_a_drive_are_gaps_however_many(write):
    """Dropouts while the current moves: the two sides do not agree, so nobody knows what flowed."""
    rng = np.random.default_rng(5)
    current = rng.normal(0.0, 50.0, 4000)
    keep = np.ones(4000, dtype=bool)
    for start in range(50, 3900, 100):
        keep[start : start + 20] = False
    rows = "".join(f"{t},{current[t]:.2f}\n" for t in np.flatnonzero(keep))
    report = describe_file(write(f"time_s,current_A\n{rows}"))
    assert report.time.gaps == 39


def test_a_unit_that_is_not_known_gives_shares(write):
    path = write("time_s,current\n" + "".join(f"{t},4\n" for t in (*range(11), *range(30, 41))))
    found = finding(describe_file(path), "1 gap")
    assert "Bridged, the gaps hold 50 % of the charge" in found.message  # 20 of 40 s


@pytest.mark.skipif(not CYCLER.exists(), reason="the shared measured files are absent")
def test_measured_cycler_with_dense_steps():
    """The cycler's own sums of its column dq/mA.h: 6157.6 mAh in and 4651.2 mAh out."""
    found = finding(describe_file(CYCLER), "negative, net")
    assert "6.17 Ah with positive current and 4.65 Ah with negative" in found.message


@pytest.mark.skipif(not PULSES.exists(), reason="the shared measured files are absent")
def test_measured_pulse_test_says_how_sure_its_charge_is():
    """The cycler's own counter gives 30.77 Ah in and 31.07 Ah out; a row 60 s after a step leaves 0.8 Ah open."""
    report = describe_file(PULSES)
    assert report.time.gaps == 0
    said = finding(report, "negative, net").message
    positive, negative = (float(value) for value in re.findall(r"([\d.]+) Ah with", said))
    assert positive == pytest.approx(30.77, abs=0.84)
    assert negative == pytest.approx(31.07, abs=0.86)
    assert "is not sure, because current at the two sides differs" in finding(report, "step is uneven").message
