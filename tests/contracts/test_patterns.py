"""No text can hold the program with a regular expression: every pattern's time grows about as its text does.

Each pattern is tried on texts that are made to lead it astray: a beginning, a piece repeated, and an end that does not
fit. A pattern that can fit one text in many ways takes at least four times as long for twice the text; one that cannot
takes twice. Time is the thread's own, the least of several tries, and only growth is judged.
"""

import ast
import importlib
import re
import time
from itertools import product
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
MODULE_FUNCTIONS = {"match", "search", "fullmatch", "sub", "subn", "split", "findall", "finditer"}
METHODS = ("search", "fullmatch")
SHORT = 800
GROWTH = 2.9
"""Between the two of a linear time and the four of a quadratic one, for each doubling."""
FELT_S = 3e-4
"""A linear pattern goes through the shortest text in less; whatever takes longer is looked at closely."""
LONG_S = 0.05
"""A hundred times what a linear pattern takes for the longest text; nobody waits for more doublings of that."""

TRIES = 3
"""A machine busy with something else can spoil one measurement; it does not spoil three."""


def sources():
    for package in ("lifetime", "webapi"):
        yield from sorted((ROOT / package).rglob("*.py"))


def patterns_in(value):
    if isinstance(value, re.Pattern):
        yield value
    elif isinstance(value, dict):
        for one in value.values():
            yield from patterns_in(one)
    elif isinstance(value, list | tuple):
        for one in value:
            yield from patterns_in(one)


def all_patterns():
    found = {}
    for path in sources():
        if "re.compile(" not in path.read_text(encoding="utf-8"):
            continue
        name = ".".join(path.relative_to(ROOT).with_suffix("").parts)
        for key, value in vars(importlib.import_module(name)).items():
            for at, pattern in enumerate(patterns_in(value)):
                found.setdefault((pattern.pattern, pattern.flags), f"{name}.{key}[{at}]")
    return [pytest.param(re.compile(*key), id=name) for key, name in found.items()]


def letters_of(pattern):
    """Characters that the pattern itself names, one for each kind, and one that it does not."""
    text = pattern.pattern if isinstance(pattern.pattern, str) else pattern.pattern.decode("latin-1")
    plain = re.sub(r"\\(?:[dDsSwWbBAZ]|x[0-9a-f]{2}|u[0-9a-f]{4})|\(\?[aiLmsux:P<!=]*|[\\^$*+?{}|]", " ", text)
    named = {letter for letter in plain if not letter.isalnum()} - {" "}
    words = {letter for letter in plain if letter.isalpha()}
    return ["1", " ", "\n", "a", *sorted(named)[:8], *sorted(words)[:4]]


def adversarial(pattern):
    """Beginning, piece and end of texts, as the pattern's own kind of text."""
    letters = letters_of(pattern)
    words = [word for word in re.findall(r"[A-Za-z<!>-]{2,}", str(pattern.pattern)) if len(word) < 12][:6]
    starts = dict.fromkeys(["", "a[", "1", *letters[4:8], *words])
    pieces = [*letters, *("".join(pair) for pair in product(letters[:8], repeat=2) if pair[0] != pair[1]), *words]
    yield from product(starts, pieces, ("", "\x01x"))


def text_of(pattern, start, piece, end, length):
    text = start + piece * (length // len(piece)) + end
    return text if isinstance(pattern.pattern, str) else text.encode("utf-8")


def least_time(act, text, tries):
    best = float("inf")
    for _ in range(tries):
        begun = time.thread_time()
        act(text)
        best = min(best, time.thread_time() - begun)
        if best > LONG_S:
            break
    return best


def grows_too_fast(pattern, method, start, piece, end):
    """Whether three doublings in a row each take far more than twice the time."""
    act = getattr(pattern, method)
    last = least_time(act, text_of(pattern, start, piece, end, SHORT), 3)
    if last > LONG_S:
        return True
    for doubling in range(1, 4):
        now = least_time(act, text_of(pattern, start, piece, end, SHORT << doubling), 3)
        if now < GROWTH * last:
            return False
        last = now
        if now > LONG_S:
            break
    return True


def slow_text(pattern):
    """A text that the pattern grows too fast on, or None."""
    for (start, piece, end), method in product(adversarial(pattern), METHODS):
        text = text_of(pattern, start, piece, end, SHORT)
        if least_time(getattr(pattern, method), text, 1) < FELT_S:
            continue
        if grows_too_fast(pattern, method, start, piece, end):
            return start, piece, end, method
    return None


@pytest.mark.parametrize("pattern", all_patterns())
def test_the_time_of_every_pattern_grows_as_its_text(pattern):
    assert any(slow_text(pattern) is None for _ in range(TRIES))


@pytest.mark.parametrize(
    "bad",
    [
        r"[\[(]\s*([^\[\]()]*?)\s*[\])]$",
        r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?",
        rb"(?m)^[ \t]+|[ \t]+(?=\r?$)",
        r"\s*\n\s*",
        r"(?s)<!--.*?-->",
        r"^a*a*$",
    ],
)
def test_a_pattern_that_explodes_is_found(bad):
    """The kinds of pattern that must not come back; without this the test above could be blind."""
    assert any(slow_text(re.compile(bad)) is not None for _ in range(TRIES))


def test_patterns_stand_where_they_can_be_timed():
    """Compiled once, under a name of their module; none is written into a call or made from a user's text."""
    for path in sources():
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if not (isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute)):
                continue
            called = node.func
            if isinstance(called.value, ast.Name) and called.value.id == "re":
                place = f"{path.relative_to(ROOT)}:{node.lineno}"
                assert called.attr not in MODULE_FUNCTIONS, f"{place}: compile the pattern under a name of the module"
                assert called.attr != "compile" or node.col_offset > 0, place
