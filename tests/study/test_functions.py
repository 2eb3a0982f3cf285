"""The user's own split function from a Python file: found, hashed, or refused with what to do."""

import hashlib

import pytest

from lifetime.errors import InputError
from lifetime.study.functions import load_function

GOOD = "CALLED = []\nshare = 0.5\n\ndef half(length_s, demand_W, speed_m_s, ultracapacitor_voltage_V, state):\n"
GOOD += "    return share * demand_W, state\n"


@pytest.fixture
def write(tmp_path):
    def run(text, name="own.py"):
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        return path

    return run


def test_the_function_and_the_hash_of_its_file(write):
    function, sha256 = load_function(write(GOOD), "half")
    assert function(1.0, 80.0, 0.0, 300.0, "state") == (40.0, "state")
    assert sha256 == hashlib.sha256(GOOD.encode()).hexdigest()


def test_another_text_is_another_function(write):
    first, one = load_function(write(GOOD), "half")
    second, other = load_function(write(GOOD.replace("0.5", "0.25")), "half")
    assert (first(1.0, 80.0, 0.0, 300.0, None)[0], second(1.0, 80.0, 0.0, 300.0, None)[0]) == (40.0, 20.0)
    assert one != other


@pytest.mark.parametrize(
    ("text", "name", "said"),
    [
        (GOOD, "third", "own.py: it has no function third. Check the name."),
        (GOOD, "share", "own.py: it has no function share. Check the name."),
        ("raise RuntimeError('no licence')", "half", "running the file failed (RuntimeError: no licence)."),
        ("def half(:", "half", "running the file failed (SyntaxError"),
        ("import not_there_at_all", "half", "running the file failed (ModuleNotFoundError"),
    ],
)
def test_a_file_without_the_function(write, text, name, said):
    with pytest.raises(InputError) as refused:
        load_function(write(text), name)
    assert said in str(refused.value)


def test_a_file_that_is_not_there(tmp_path):
    with pytest.raises(InputError, match=r"own.py: the file cannot be read \(No such file or directory\)"):
        load_function(tmp_path / "own.py", "half")


def test_a_file_that_is_not_python(write):
    with pytest.raises(InputError, match=r"own.txt: this is not a Python file. Give a file that ends in .py."):
        load_function(write(GOOD, "own.txt"), "half")
