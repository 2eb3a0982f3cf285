"""C112: the same data have the same fingerprint whatever the format, column order or name; other data do not."""

import numpy as np
import pandas as pd
import pytest

from lifetime.history.open import open_history
from lifetime.history.spec import HistoryInput

TIME = np.arange(50) * 0.5
CURRENT = np.sin(TIME) * 20.0


def fingerprint(folder, name, frame, **spec):
    path = folder / name
    if name.endswith("parquet"):
        frame.to_parquet(path)
    else:
        frame.to_csv(path, index=False)
    return open_history(HistoryInput(file=name, **spec), folder).data_sha256


@pytest.fixture
def usual(tmp_path):
    frame = pd.DataFrame({"t_s": TIME, "i_A": CURRENT})
    return fingerprint(tmp_path, "usual.csv", frame, time="t_s", current="i_A")


def test_format_column_order_and_names_do_not_matter(usual, tmp_path):
    swapped = pd.DataFrame({"amps [A]": CURRENT, "more": 1.0, "clock [s]": TIME})
    for name in ("other.csv", "other.parquet"):
        assert fingerprint(tmp_path, name, swapped, time="clock [s]", current="amps [A]") == usual


def test_sign_is_part_of_the_data_not_of_the_name(usual, tmp_path):
    turned = pd.DataFrame({"t_s": TIME, "i_A": -CURRENT})
    assert fingerprint(tmp_path, "turned.csv", turned, time="t_s", current="i_A", discharge_is="negative") == usual


def test_one_value_in_the_twelfth_digit_matters(usual, tmp_path):
    moved = CURRENT.copy()
    moved[7] *= 1.0 + 1e-12
    frame = pd.DataFrame({"t_s": TIME, "i_A": moved})
    assert fingerprint(tmp_path, "moved.csv", frame, time="t_s", current="i_A") != usual


def test_a_power_is_not_a_current(usual, tmp_path):
    frame = pd.DataFrame({"t_s": TIME, "p_W": CURRENT})
    assert fingerprint(tmp_path, "power.csv", frame, time="t_s", power="p_W") != usual
