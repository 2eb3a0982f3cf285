"""Climates: twelve monthly means in kelvin, from a name, a file, a list or one number."""

from pathlib import Path

import numpy as np
import pytest

from lifetime.errors import ProfileError
from lifetime.packs.climate import load_climate
from lifetime.packs.locate import profiles_folder, shipped_ids


@pytest.mark.parametrize("name", shipped_ids("climates"))
def test_shipped_climates_are_twelve_plausible_months_and_say_they_are_invented(name):
    ambient_K = load_climate(name)
    assert ambient_K.shape == (12,)
    assert (ambient_K > 250).all()
    assert (ambient_K < 315).all()
    text = (profiles_folder() / "climates" / f"{name}.csv").read_text(encoding="utf-8")
    assert "Invented scenario" in text.splitlines()[0]


def test_climates_differ_as_their_names_say():
    means = {name: load_climate(name).mean() for name in shipped_ids("climates")}
    assert means["cold"] < means["temperate"] < means["hot_dry"]
    spread = {name: np.ptp(load_climate(name)) for name in shipped_ids("climates")}
    assert spread["mild_marine"] == min(spread.values())


def test_number_and_list():
    np.testing.assert_allclose(load_climate(25), 298.15)
    months = [-2, 0, 5, 10, 15, 20, 23, 22, 17, 11, 5, 0]
    np.testing.assert_allclose(load_climate(months), np.array(months) + 273.15)


def test_own_file(tmp_path):
    rows = "\n".join(f"{month},{month / 2}" for month in range(1, 13))
    (tmp_path / "here.csv").write_text(f"# measured\nmonth,ambient_C\n{rows}\n", encoding="utf-8")
    np.testing.assert_allclose(load_climate("here.csv", tmp_path), np.arange(1, 13) / 2 + 273.15)


@pytest.mark.parametrize(
    ("climate", "words"),
    [
        ("tropical", "is not one of the shipped climates"),
        ("nowhere.csv", "no such file"),
        ([1.0, 2.0], "twelve monthly means"),
        (298.15, "-60 to 60 °C"),  # kelvin by mistake
        (float("nan"), "not finite"),
        (["warm"] * 12, "expected numbers"),
    ],
)
def test_what_is_no_climate(climate, words):
    with pytest.raises(ProfileError, match=words):
        load_climate(climate, Path())


@pytest.mark.parametrize(
    "text", ["month,ambient_C\n1,5\n2,6\n", "month,temp\n" + "".join(f"{m},5\n" for m in range(1, 13)), ""]
)
def test_own_file_with_faults(tmp_path, text):
    (tmp_path / "here.csv").write_text(text, encoding="utf-8")
    with pytest.raises(ProfileError, match="the header month,ambient_C"):
        load_climate("here.csv", tmp_path)


def test_short_row(tmp_path):
    rows = "".join(f"{m},5\n" for m in range(1, 12))
    (tmp_path / "here.csv").write_text(f"month,ambient_C\n{rows}12\n", encoding="utf-8")
    with pytest.raises(ProfileError):
        load_climate("here.csv", tmp_path)
