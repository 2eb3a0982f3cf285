"""Places in a study given as plain data: paths of keys, their words, and the leaves they lead to."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final

Path = tuple[str | int, ...]
"""Keys from the top, lists counted from 0."""

RANGE_KEYS: Final = frozenset({"from", "to", "steps", "scale", "values"})
"""Keys of a range that stands in place of a number."""


def path_words(path: Sequence[str | int]) -> str:
    """A path as a person writes it, such as ``strategy[2].split.time_constant_s``, lists counted from 1.

    Args:
        path: The path.
    """
    words = ""
    for part in path:
        words += f"[{part + 1}]" if isinstance(part, int) else f".{part}" if words else part
    return words


def leaves(value: Any, path: Path = ()) -> Iterator[tuple[Path, Any]]:
    """Everything in plain data that is no table and no list, with its path; a range is one leaf.

    Args:
        value: The data.
        path: Where it stands.
    """
    if isinstance(value, Mapping):
        if value and set(value) <= RANGE_KEYS and ("values" in value or "from" in value or "steps" in value):
            yield path, value
            return
        for key, item in value.items():
            yield from leaves(item, (*path, key))
    elif isinstance(value, list):
        for number, item in enumerate(value):
            yield from leaves(item, (*path, number))
    else:
        yield path, value
