"""TOML from anybody: what would take a parser hours or gigabytes is refused before it is parsed.

A parser remembers every part of every dotted key, goes one level down for every bracket, and turns digits into a whole
number of any length. No file of this program needs more than a few of each.
"""

import re
import tomllib
from collections.abc import Mapping
from typing import Any, Final

_DEEPEST: Final = 32
_MOST_DOTS: Final = 12
_LONGEST_WORD: Final = 300
_MOST_DIGITS: Final = 40

# Each token in one way only: a text that never ends is one token up to where it would have to.
_TOKEN: Final = re.compile(
    r'"""(?:[^"\\]++|\\.|"(?!""))*+(?:"""+)?'
    r"|'''(?:[^']++|'(?!''))*+(?:'''+)?"
    r'|"(?:[^"\\\n]++|\\[^\n])*+"?'
    r"|'[^'\n]*+'?"
    r"|#[^\n]*+"
    r"|[A-Za-z0-9_+-]++"
    r"|[^\S\n]++"
    r"|.",
    re.DOTALL,
)
_OPENING: Final = frozenset("[{")
_CLOSING: Final = frozenset("]}")
_BETWEEN_KEYS: Final = frozenset("=,[]{}\n")


class TomlError(ValueError):
    """A text is not TOML, or holds what no file of this program needs; the message gives the line."""


def read_toml_text(text: str) -> dict[str, Any]:
    """Parse a TOML text of bounded depth.

    Args:
        text: The whole text.

    Raises:
        TomlError: It is not TOML; brackets nest deeper than 32 levels; a key has more than 12 dots; a word has more
            than 300 characters or a number more than 40 digits.
    """
    _refuse_excess(text)
    try:
        return tomllib.loads(text)
    except (ValueError, RecursionError, OverflowError) as error:
        raise TomlError(str(error)) from None


def toml_text(data: Mapping[str, Any]) -> str:
    """Write plain data, such as a study, as a TOML text.

    Args:
        data: Keys and values without None.
    """
    import tomli_w  # noqa: PLC0415 - only needed where a study is shown as text

    return tomli_w.dumps(data)


def _refuse_excess(text: str) -> None:
    level = dots = 0
    for token in _TOKEN.finditer(text):
        word = token[0]
        if word in _OPENING:
            level += 1
            if level > _DEEPEST:
                raise _excess(text, token.start(), f"nests deeper than {_DEEPEST} levels")
        elif word in _CLOSING:
            level -= 1
        if word in _BETWEEN_KEYS:
            dots = 0
        elif word == ".":
            dots += 1
            if dots > _MOST_DOTS:
                raise _excess(text, token.start(), f"holds a key with more than {_MOST_DOTS} dots")
        elif word[0].isalnum() or word[0] in "_+-":
            _refuse_long(text, token.start(), word)


def _refuse_long(text: str, place: int, word: str) -> None:
    if len(word) > _LONGEST_WORD:
        raise _excess(text, place, f"holds a word of more than {_LONGEST_WORD} characters")
    if len(word) > _MOST_DIGITS and word.lstrip("+-")[:1].isdigit():
        raise _excess(text, place, f"holds a number of more than {_MOST_DIGITS} digits")


def _excess(text: str, place: int, what: str) -> TomlError:
    line = text.count("\n", 0, place) + 1
    return TomlError(f"line {line} {what}; no file of this program needs that")
