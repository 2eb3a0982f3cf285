"""Hourly weather files: made by hand after the public formats, and three typical years as published.

Formats: EnergyPlus EPW data dictionary (dry bulb the seventh field, 99.9 missing); TMY3 manual, NREL/TP-581-43156.
"""

from pathlib import Path

import numpy as np
import pytest

from lifetime.constants import DAYS_OF_MONTHS
from lifetime.errors import ProfileError
from lifetime.packs.climate import hours_by_month, is_hourly, load_climate, monthly_means_K

SHARED = Path(__file__).parents[3] / "shared" / "data" / "ambient_temperature"
HOURS = [
    (month, day, hour)
    for month, days in enumerate(DAYS_OF_MONTHS, start=1)
    for day in range(1, days + 1)
    for hour in range(1, 25)
]


def year_of(month):
    """Typical years are spliced from months of several years, not in their order."""
    return 1987 + 5 * month % 12


def by_month_and_hour(month, _day, hour):
    return month + hour / 10.0


def epw(value=by_month_and_hour):
    head = ["LOCATION,K\xf6ln,-,DEU,made up,1,50.9,7.0,1.0,40.0", *(f"HEADER {place},0" for place in range(2, 9))]
    rows = [f"{year_of(m)},{m},{d},{h},60,A7A7A7,{value(m, d, h):g},1.1,80,101000,0" for m, d, h in HOURS]
    return "\r\n".join([*head, *rows, ""])


def tmy3(value=by_month_and_hour):
    head = ["999999,MADE UP,XX,1,50.9,7.0,40,,,", "Date (MM/DD/YYYY),Time (HH:MM),Dry-bulb (C)"]
    time = {24: "24:00:00"}
    rows = [f"{m}/{d}/{year_of(m)},{time.get(h, f'{h}:00')},{value(m, d, h):g}" for m, d, h in HOURS]
    return "\n".join([*head, *rows, ""])


def load(folder, text, name="here.csv"):
    (folder / name).write_bytes(text.encode("latin-1"))
    return load_climate(name, folder)


@pytest.mark.parametrize(("text", "name"), [(epw(), "here.epw"), (epw(), "there/here.csv"), (tmy3(), "HERE.CSV")])
def test_every_hour_in_its_month(tmp_path, text, name):
    (tmp_path / "there").mkdir()
    ambient_K = load(tmp_path, text, name)
    assert ambient_K.shape == (8760,)
    assert is_hourly(ambient_K)
    # The first hours of January, and the last of January, which is hour 24 of the 31st.
    assert ambient_K[:2].tolist() == pytest.approx([274.25, 274.35])
    assert hours_by_month(ambient_K)[0][-1] == pytest.approx(273.15 + 1.0 + 2.4)
    # Each month: its number, and the mean of 0.1 to 2.4.
    np.testing.assert_allclose(monthly_means_K(ambient_K), 273.15 + np.arange(1, 13) + 1.25)


def without(text, number):
    rows = text.splitlines()
    return "\n".join(rows[: number - 1] + rows[number:])


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (without(epw(), 9), r"row 9: expected the hour 1/1 hour 1 .*got 1/1 hour 2.*missing, repeated"),
        (without(tmy3(), 3), r"row 3: expected the hour 1/1 hour 1 .*got 1/1 hour 2"),
        (without(tmy3(), 8762), "expected 8760 hours, got 8759"),
        (epw() + "1990,1,1,1,60,A7,5.0\n", "expected 8760 hours, got 8761"),
        (epw(lambda m, d, h: 99.9 if (m, d, h) == (2, 3, 4) else 5.0), r"row 804 \(2/3 hour 4\).*99.9 stands for"),
        (tmy3(lambda m, d, h: -9900 if (m, d, h) == (1, 1, 2) else 5.0), r"row 4 .*-9900 stands for a missing value"),
        (tmy3(lambda m, d, h: float("nan") if (m, d, h) == (1, 1, 2) else 5.0), "row 4 .*-75 to 60 °C, got nan"),
        (epw(lambda *_: 288.15), "row 9 .*-75 to 60 °C, got 288"),
        (tmy3().replace("1:00,1.1", "1:00,", 1), 'row 3 .*expected the dry-bulb temperature in °C, got ""'),
        (tmy3().replace("1/1/1992,2:00", "1/1/1992,1:30", 1), "row 4: expected the hour 1/1 hour 2"),
        (tmy3().replace("Time (HH:MM)", "Time"), r"row 2: expected the columns .*Time \(HH:MM\) is not there"),
        (epw().replace("\r\n1992,1,1,1,", "\r\n1992,one,1,1,", 1), "row 9: expected the hour 1/1 hour 1"),
        (tmy3().replace("3/1/", "2/29/", 1), "2/29 hour 1. .*29 February"),
    ],
)
def test_what_is_broken_is_refused_as_a_whole(tmp_path, text, words):
    with pytest.raises(ProfileError, match=words):
        load(tmp_path, text)


@pytest.mark.parametrize("header", ["month,ambient_C,Dry-bulb (C)\n", "LOCATION,\n", "LOCATION,x\n\n"])
def test_nearly_nothing(tmp_path, header):
    with pytest.raises(ProfileError):
        load(tmp_path, header)


def test_a_byte_order_mark_is_none_of_the_file(tmp_path):
    (tmp_path / "here.epw").write_bytes(b"\xef\xbb\xbf" + epw().encode("latin-1"))
    assert load_climate("here.epw", tmp_path).size == 8760


@pytest.mark.skipif(not SHARED.is_dir(), reason="the measured sets are not beside the checkout")
@pytest.mark.parametrize(
    ("site", "low", "mean", "high"),
    # As the data set's own description says.
    [("phoenix_az_hot_dry", 2.2, 23.8, 44.4), ("minneapolis_mn_cold", -31.1, 7.7, 37.2),
     ("seattle_wa_mild_marine", -5.6, 11.2, 31.8)],
)  # fmt: skip
def test_published_years(site, low, mean, high):
    ambient_C = load_climate(f"{site}.csv", SHARED) - 273.15
    assert (ambient_C.min(), ambient_C.max()) == (pytest.approx(low), pytest.approx(high))
    assert ambient_C.mean() == pytest.approx(mean, abs=0.05)
