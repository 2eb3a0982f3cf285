"""Words of a text column that tell charging from discharging, known by their content; gear levers are told apart."""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np

from lifetime.checks import FloatArray

_CHARGING: Final = re.compile(r"^(cc|cv|cccv)?[ _-]*(c|chg|chrg|charge|charging)\b", re.IGNORECASE)
_DISCHARGING: Final = re.compile(r"^(cc|cp|cr)?[ _-]*(d|dchg|dchrg|disch\w*|discharge)\b", re.IGNORECASE)
_RESTING: Final = re.compile(r"^(rest|pause|idle|susp\w*|r|p|s|ocv)\b", re.IGNORECASE)
_MODE_NAME: Final = re.compile(r"mode|state|step type|status|instruction|^md$", re.IGNORECASE)
_MOST_WORDS: Final = 100
_LONGEST_WORD: Final = 30


@dataclass(frozen=True, slots=True)
class ModeMeaning:
    """What the words of a mode column seem to mean.

    Args:
        charging: Words that seem to mean charging.
        discharging: Words that seem to mean discharging.
        resting: Words that seem to mean rest.
        others: Words that mean none of them.
    """

    charging: tuple[str, ...]
    discharging: tuple[str, ...]
    resting: tuple[str, ...]
    others: tuple[str, ...]

    @classmethod
    def of_words(cls, words: Iterable[str]) -> "ModeMeaning":
        """Sort words by what they seem to mean.

        Args:
            words: Distinct words; empty ones mean nothing.
        """
        known = sorted({word for word in words if word})
        charging = tuple(word for word in known if _CHARGING.search(word))
        discharging = tuple(word for word in known if _DISCHARGING.search(word))
        resting = tuple(word for word in known if _RESTING.search(word))
        sorted_out = {*charging, *discharging, *resting}
        return cls(charging, discharging, resting, tuple(word for word in known if word not in sorted_out))

    @property
    def tells_direction(self) -> bool:
        """True where a word means charging or discharging and the words are not those of a gear lever (P, R, N, D)."""
        is_gear_lever = "N" in self.others or (not self.charging and {"P", "D"} <= {*self.resting, *self.discharging})
        return bool(self.charging or self.discharging) and not is_gear_lever

    @property
    def is_mode_whatever_its_name(self) -> bool:
        """True where the words alone make it a mode: nothing else is there, and both directions or whole words are."""
        if not self.tells_direction or self.others:
            return False
        words = (*self.charging, *self.discharging, *self.resting)
        both = bool(self.charging and self.discharging)
        return both or (bool(self.resting) and all(len(word) > 1 for word in words))


class WordCollector:
    """Gathers the distinct words of a text column while it is streamed; a column of free text is given up."""

    def __init__(self) -> None:
        self.words: set[str] = set()
        self._is_free_text = False

    def numbers(self, texts: Sequence[str]) -> FloatArray:
        """Take in fields; no number comes of them.

        Args:
            texts: Fields, surrounding white space removed.

        Returns:
            NaN for each.
        """
        if not self._is_free_text:
            self.words.update(texts)
            if len(self.words) > _MOST_WORDS or any(len(word) > _LONGEST_WORD for word in self.words):
                self._is_free_text, self.words = True, set()
        return np.full(len(texts), np.nan)


def is_named_like_mode(column: str) -> bool:
    """Tell whether the name of a column mentions a mode, such as "Mode", "State" or "Md".

    Args:
        column: Its name.
    """
    return _MODE_NAME.search(column) is not None
