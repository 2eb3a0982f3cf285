"""A battery too small for its day: that is an answer, not a failure. What follows from it is by definition."""

import re
import shutil

import pytest

from lifetime.assessment.run import assess
from lifetime.errors import AssessmentError
from lifetime.packs.locate import profiles_folder
from lifetime.report.words import reference_sentence
from lifetime.results.document import ResultDocument
from lifetime.results.strategy import ReferenceSplitView
from lifetime.study.load import load_study


@pytest.fixture
def demo(tmp_path):
    """Load the built-in study with one line changed."""

    def load(was, now):
        folder = profiles_folder() / "demo"
        shutil.copy(folder / "yard_shift.csv", tmp_path)
        text = (folder / "yard_tractor.toml").read_text(encoding="utf-8")
        assert was in text
        text = re.sub(r"^design = .*\n", "", text, flags=re.MULTILINE)  # one battery for all
        (tmp_path / "study.toml").write_text(text.replace(was, now, 1), encoding="utf-8")
        return load_study(tmp_path / "study.toml")

    return load


def test_no_strategy_delivers_and_none_is_ranked(demo):
    # A tenth of the cells: the day takes several times what they hold, and no night would be long enough to charge it.
    found = assess(demo("parallel = 40", "parallel = 4"))
    assert {one.battery.life_state for one in found.strategies} == {"requirement_not_met"}
    assert {one.rank for one in found.strategies} == {None}
    assert found.notices == ()  # nothing is ranked, so nothing need compare
    for one in found.strategies:
        codes = {notice.code for notice in one.battery.notices}
        assert "cannot_deliver_when_new" in codes
        assert not {code for code in codes if "range" in code}
    strategies = ResultDocument.of(found).strategies
    splits = [one.reference_split for one in strategies if one.reference_split is not None]
    reason = "the battery does not meet its requirement at the beginning of life, so there is no life to cost"
    assert len(splits) == 2
    for split in splits:
        assert reference_sentence(split).endswith(f"The least-rms split has no cost to compare with: {reason}.")
    assert {one.cost.reason for one in strategies} == {reason}


def test_a_day_too_long_to_charge_names_the_strategy(demo):
    with pytest.raises(
        AssessmentError, match=r'^Strategy "Battery alone": The working day of the battery does not fit'
    ):
        assess(demo("charge_c_rate = ", "charge_c_rate = 0.02 # "))


def test_a_limit_that_the_bank_cannot_keep_is_named(demo):
    strategies = {one.name: one for one in assess(demo("parallel = 40", "parallel = 40")).strategies}
    for name, one in strategies.items():
        said = [notice.message for notice in one.notices if notice.code == "battery_limit_passed"]
        assert bool(said) == name.startswith("Battery limited"), name
    limited = strategies["Battery limited to 60 kW"]
    (message,) = [notice.message for notice in limited.notices if notice.code == "battery_limit_passed"]
    assert f"(largest {limited.reference_split.battery_peak_W / 1000:.4g} kW)" in message


@pytest.mark.parametrize(
    ("alone", "best", "wear", "words"),
    [
        (None, 5e4, None, "The battery alone has no cost to compare with: a source has no life."),
        (None, None, None, "The least-rms split has no cost to compare with: a source has no life."),
        (6e4, 7e4, 0.4, "The least-rms split, which does not minimise cost, saves none with this ultracapacitor bank."),
        (6e4, 5e4, None, "kW."),
        (
            6e4,
            5e4,
            0.4,
            "of the least-rms split's reduction of battery capacity loss.",
        ),  # it is the strategy itself that has no cost
    ],
)
def test_why_there_is_no_share_of_the_cost(alone, best, wear, words):
    figures = dict.fromkeys(
        ("battery_rms_W", "battery_peak_W", "alone_rms_W", "alone_peak_W", "reference_rms_W", "reference_peak_W"), 1e4
    )
    figures |= {
        "reference_life_years": None,
        "alone_net_present_cost": alone,
        "reference_net_present_cost": best,
        "reached_capacity_loss_fraction": wear,
        "reached_cost_saving_fraction": None,
        "alone_no_cost_reason": "a source has no life" if alone is None else None,
        "reference_no_cost_reason": "a source has no life" if best is None else None,
    }
    assert reference_sentence(ReferenceSplitView(**figures)).endswith(words)
