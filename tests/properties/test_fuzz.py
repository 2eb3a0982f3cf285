"""Mutated files and studies: whatever comes in, out comes a history or a typed error, never anything else.

Runs a few hundred mutations; with PACKWEAR_FUZZ_SECONDS=1800 in the environment it goes on for half an hour.
"""

import os
import random
import time

import numpy as np
import pytest

from lifetime.errors import PackwearError
from lifetime.history.inspection.file_report import describe_file
from lifetime.history.open import open_history
from lifetime.history.spec import HistoryInput
from lifetime.study.load import load_study

SECONDS = float(os.environ.get("PACKWEAR_FUZZ_SECONDS", "0"))
ROUNDS = 300

ROWS = [(k * 0.5, 10.0 * np.sin(k), 350.0 - k % 7, 25.0 + k % 3) for k in range(40)]
SEEDS = [
    "Time [s];I [A];U [V];T [°C]\n" + "".join(f"{t};{i:.4f};{u};{c}\n" for t, i, u, c in ROWS),
    "Prüfling;A17\nDatum;01.02.2026\n\nZeit;Strom;Spannung;Temp\ns;A;V;°C\n"
    + "".join(f"{t};{i:.3f};{u};{c}\n".replace(".", ",") for t, i, u, c in ROWS),
    "t_s,mode,current_A\n" + "".join(f"{t},{'CHG' if i < 0 else 'DCHG'},{abs(i):.5g}\n" for t, i, _, _ in ROWS),
    "stamp\tI/mA\n" + "".join(f"2026-02-01 10:{k // 60:02d}:{k % 60:02d}\t{k % 9}\n" for k in range(40)),
    "".join(f"{t},{i:.6g},{u},{c}\n" for t, i, u, c in ROWS),
    '"Time (s)","Current (A)"\r\n' + "".join(f'"{t}","1,{k % 10}00.5"\r\n' for k, (t, *_) in enumerate(ROWS)),
]
SPECS = [
    {"time": "Time [s]", "current": "I [A]", "voltage": "U [V]", "temperature": "T [°C]"},
    {"time": "Zeit [s]", "current": "Strom [A]"},
    {"time": "t_s", "current": "current_A", "mode": "mode", "charge_modes": ["CHG"], "discharge_modes": ["DCHG"]},
    {"time": "stamp", "time_format": "iso", "current": "I/mA", "clean": ["drop_bad_rows", "sort_by_time"]},
    {"time": "column 1", "time_unit": "s", "current": "column 2", "current_unit": "A", "clean": ["join_restarts"]},
    {"time": "Time (s)", "current": "Current (A)", "clean": ["drop_spikes", "rest_in_gaps"]},
]
BITS = [b"\n", b"\r", b'"', b";", b",", b"\t", b"\x00", b"\xff", b"-", b"e308", b"nan", b"inf", b"1.7e308", b" ", b"#"]
STUDY = """title = "t"
[service]
years = 5
working_days_per_year = 200
ambient_C = 20
[battery]
cell = "lfp_naumann_2020"
series = 100
parallel = 2
start_soc = 0.8
[battery.price]
purchase = 1000
[cost]
currency = "EUR"
discount_rate = 0.05
[[strategy]]
name = "a"
battery = { file = "fuzz.csv", time = "Time [s]", current = "I [A]" }
"""


def mutated(content, draw):
    """One to six random changes: bytes set, pieces cut, doubled, moved, or special bits put in."""
    data = bytearray(content)
    for _ in range(draw.randint(1, 6)):
        at = draw.randrange(len(data) + 1)
        kind = draw.randrange(5)
        length = draw.randint(1, 30)
        if kind == 0 and at < len(data):
            data[at] = draw.randrange(256)
        elif kind == 1:
            del data[at : at + length]
        elif kind == 2:
            data[at:at] = data[at : at + length]
        elif kind == 3:
            data[at:at] = draw.choice(BITS)
        else:
            piece = data[at : at + length]
            del data[at : at + length]
            data[draw.randrange(len(data) + 1) :][:0] = piece
    return bytes(data)


def rounds():
    """A fixed number of rounds, or as many as the time asked for holds; each with its own seed."""
    end = time.monotonic() + SECONDS
    number = 0
    while number < ROUNDS or time.monotonic() < end:
        yield number
        number += 1


def check_numbers(history):
    for block in history.blocks():
        for values in (block.time_s, block.current_A, block.voltage_V, block.temperature_K):
            assert values is None or np.isfinite(values).all()


@pytest.mark.filterwarnings("error")
def test_mutated_histories(tmp_path):
    path = tmp_path / "fuzz.csv"
    opened = refused = 0
    for number in rounds():
        draw = random.Random(number)
        which = draw.randrange(len(SEEDS))
        text = SEEDS[which].encode(draw.choice(["utf-8", "latin-1", "utf-16"]), "replace")
        path.write_bytes(mutated(text, draw))
        try:
            history = open_history(HistoryInput(file="fuzz.csv", **SPECS[which]), tmp_path)
            check_numbers(history)
            opened += 1
        except PackwearError as error:
            assert str(error).startswith("fuzz.csv")  # noqa: PT017 - either outcome is right, anything else is not
            refused += 1
        try:
            describe_file(path)
        except PackwearError as error:
            assert str(error)  # noqa: PT017
    assert opened > ROUNDS / 20
    assert refused > ROUNDS / 20


@pytest.mark.filterwarnings("error")
def test_mutated_studies(tmp_path):
    (tmp_path / "fuzz.csv").write_text(SEEDS[0], encoding="utf-8")
    path = tmp_path / "study.toml"
    loaded = 0
    for number in rounds():
        path.write_bytes(mutated(STUDY.encode(), random.Random(number)))
        try:
            load_study(path)
            loaded += 1
        except PackwearError as error:
            assert str(error)  # noqa: PT017
    assert loaded > 0
