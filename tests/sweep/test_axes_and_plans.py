"""What may be varied, and what is refused before anything runs."""

import copy
import tomllib

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from lifetime.errors import StudyError
from lifetime.packs.locate import profiles_folder
from lifetime.study.paths import path_words
from lifetime.sweep.axes import find_axes, named_axis, parse_path, with_values
from lifetime.sweep.cached_folder import CachedFolder
from lifetime.sweep.plan import check_plan, make_plan
from lifetime.sweep.summary import pareto

DEMO = profiles_folder() / "demo"
STUDY = tomllib.loads((DEMO / "yard_tractor.toml").read_text(encoding="utf-8"))


def study(**changes):
    data = copy.deepcopy(STUDY)
    for key, value in changes.items():
        data["battery"][key] = value
    return data


def test_ranges_stand_in_place_of_numbers():
    data = study(parallel={"from": 20, "to": 60, "steps": 5}, start_soc={"values": [0.8, 0.9]})
    data["ultracapacitor"]["price"]["purchase_per_farad_cell"] = {"from": 0.001, "to": 0.1, "steps": 3, "scale": "log"}
    axes = {axis.name: axis for axis in find_axes(data, "s.toml")}
    assert axes["battery.parallel"].values == (20.0, 30.0, 40.0, 50.0, 60.0)
    assert axes["battery.parallel"].whole
    assert axes["battery.start_soc"].values == (0.8, 0.9)
    # Even steps of the logarithm: 0.001, 0.01, 0.1.
    assert axes["ultracapacitor.price.purchase_per_farad_cell"].values == pytest.approx((0.001, 0.01, 0.1))


def test_named_axes_and_paths():
    data = {"strategy": [{}, {"split": {"time_constant_s": 5}}]}
    axis = named_axis("strategy[2].split.time_constant_s=1:100:3:log", data)
    assert axis.values == pytest.approx((1.0, 10.0, 100.0))
    assert axis.path == ("strategy", 1, "split", "time_constant_s")
    assert path_words(parse_path("strategy[12].split.rule")) == "strategy[12].split.rule"
    changed = with_values(study(), [named_axis("battery.parallel=1,2", study())], [2.0])
    assert changed["battery"]["parallel"] == 2
    assert isinstance(changed["battery"]["parallel"], int)
    assert STUDY["battery"]["parallel"] == 40


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("battery.parallels=1:2:3", "the study has no number there. Near it are battery.parallel"),
        ("strategy[9].split.time_constant_s=1:2:3", r"Near it are strategy\[\d\].split.time_constant_s"),
        ("battery.cell=1:2:3", "has no number there"),
        ("qwx=1:2:3", "lists count from 1"),
        ("battery..parallel=1:2:3", "not a path"),
        ("strategy[0].x=1:2:3", "not a path"),
        ("battery.parallel", "give key=from:to:steps"),
        ("battery.parallel=", "give key=from:to:steps"),
        ("battery.parallel=5:1:3", "is empty"),
        ("battery.parallel=1:5:0", "at least 2"),
        ("battery.parallel=1:5:1", "at least 2"),
        ("battery.parallel=a:5:3", '"a" is not a finite number'),
        ("battery.parallel=1:5:2.5", "whole number"),
        ("battery.parallel=0:5:3:log", "above 0"),
        ("battery.parallel=1:5:3:cubic", "scale must be"),
        ("battery.parallel=1:nan:3", "not a finite number"),
    ],
)
def test_bad_axes(text, expected):
    with pytest.raises(StudyError, match=expected):
        named_axis(text, STUDY)


@pytest.mark.parametrize(
    ("spread", "expected"),
    [
        ({"values": []}, "at least one number"),
        ({"values": ["a"]}, "not a finite number"),
        ({"from": 1, "to": 2}, "lacks steps"),
        ({"from": 2, "to": 2, "steps": 3}, "is empty"),
    ],
)
def test_bad_ranges_in_a_study(spread, expected):
    with pytest.raises(StudyError, match=expected) as caught:
        find_axes(study(parallel=spread), "s.toml")
    assert caught.value.faults[0].place == "battery.parallel"


def test_a_million_by_accident_is_refused_with_the_count():
    axes = [named_axis(f"battery.{key}=1:1000:1000", STUDY) for key in ("series", "parallel")]
    with pytest.raises(StudyError, match=r"would run 1,000,000 candidates; 20,000 are allowed"):
        make_plan(STUDY, "s.toml", axes)
    assert len(make_plan(STUDY, "s.toml", axes, method="sobol", samples=64).points) == 64
    with pytest.raises(StudyError, match="battery.series: is varied more than once"):
        make_plan(STUDY, "s.toml", [axes[0], axes[0]])
    with pytest.raises(StudyError, match="nothing is varied"):
        make_plan(STUDY, "s.toml", [])
    with pytest.raises(StudyError, match="Leave --samples out"):
        make_plan(STUDY, "s.toml", axes, samples=64)
    with pytest.raises(StudyError, match="no candidates"):
        make_plan(STUDY, "s.toml", axes, method="latin")


def test_a_candidate_that_is_no_study_is_refused_before_anything_runs():
    axes = [named_axis("battery.start_soc=0.5:1.5:3", STUDY)]
    with pytest.raises(StudyError, match=r"with battery.start_soc = 1\.5"):
        check_plan(make_plan(STUDY, "s.toml", axes), CachedFolder(DEMO))


def test_a_list_is_never_left_and_ends_of_a_range_are_known():
    listed = named_axis("battery.parallel=20,80,40", STUDY)
    assert {listed.at(share) for share in np.linspace(0.0, 1.0, 101)} == {20.0, 40.0, 80.0}
    assert listed.end_at(20.0) is None
    ranged = named_axis("service.years=2:20:2:log", STUDY)
    # On the log scale 2 % of the range are a factor 10**0.02 = 1.047.
    assert [ranged.end_at(value) for value in (2.09, 2.1, 19.05, 19.2)] == ["lowest", None, None, "highest"]
    # 181 of 200 is no end, though on a scale from 1 it is within 2 %; nor is 19 cells of 20.
    assert [named_axis("service.years=1:200:2:log", STUDY).end_at(value) for value in (181.0, 196.0)] == [
        None,
        "highest",
    ]
    counted = named_axis("battery.parallel=2:200:2", STUDY)
    assert [counted.end_at(value) for value in (2.0, 3.0, 199.0, 200.0)] == ["lowest", None, None, "highest"]


@settings(deadline=None, max_examples=20)
@given(seed=st.integers(0, 10_000), method=st.sampled_from(["latin", "sobol"]))
def test_drawn_candidates_stay_within_bounds_and_come_again(seed, method):
    axes = [named_axis("battery.parallel=10:90:2", STUDY), named_axis("service.years=2:20:2:log", STUDY)]
    one, other = (make_plan(STUDY, "s", axes, method=method, samples=32, seed=seed) for _ in range(2))
    assert one.points == other.points
    assert one.key == other.key
    values = np.array(one.points)
    assert (values >= [10.0, 2.0]).all()
    assert (values <= [90.0, 20.0]).all()
    assert (values[:, 0] == np.round(values[:, 0])).all()
    # A Latin hypercube and a Sobol sequence of 32 points have one point in each half of each axis' halves, 16 and 16.
    assert np.count_nonzero(np.log(values[:, 1]) < np.log(np.sqrt(2.0 * 20.0))) == 16


def test_pareto_front_by_hand():
    points = np.array([[1.0, 5.0], [2.0, 3.0], [3.0, 4.0], [4.0, 1.0], [2.0, 3.0]])
    assert pareto(points).tolist() == [True, True, False, True, True]


@settings(deadline=None)
@given(seed=st.integers(0, 2**32 - 1))
def test_pareto_front_against_all_pairs(seed):
    points = np.random.default_rng(seed).integers(0, 6, (25, 3)).astype(float)
    beaten = [
        any(np.all(other <= one) and np.any(other < one) for other in points)
        for one in points
    ]  # fmt: skip
    assert pareto(points).tolist() == [not one for one in beaten]
