"""JSON without what JSON does not know: NaN and infinity are refused both ways, and so is endless nesting."""

import json
import math
from typing import Any, Final, NoReturn

from flask.json.provider import DefaultJSONProvider
from werkzeug.exceptions import BadRequest

_DEEPEST: Final = 60
_MOST_DIGITS: Final = 40
_NO_BRACKETS: Final = bytes(set(range(256)) - set(b"[]{}"))


class StrictProvider(DefaultJSONProvider):
    """The application's JSON: strict both ways, keys in the order given."""

    sort_keys = False
    ensure_ascii = False

    def dumps(self, obj: Any, **options: Any) -> str:
        """Write JSON; NaN or infinity is a fault of the program and raises."""
        options["allow_nan"] = False
        return super().dumps(obj, **options)

    def loads(self, s: str | bytes, **options: Any) -> Any:
        """Read JSON.

        Args:
            s: The text.
            options: As the standard library knows them.

        Raises:
            BadRequest: The text is no JSON, holds NaN, infinity, a number too large, the same key twice, or nests too
                deeply.
        """
        del options
        if _depth(s) > _DEEPEST:
            raise BadRequest(f"The JSON nests deeper than {_DEEPEST} levels.")
        try:
            return json.loads(
                s, parse_constant=_refuse, parse_float=_number, parse_int=_whole_number, object_pairs_hook=_object
            )
        except (ValueError, RecursionError) as error:
            raise BadRequest(f"The body is no JSON: {error}.") from None


def _depth(text: str | bytes) -> int:
    """An upper bound of the nesting that costs nothing: brackets opened and not closed, wherever they stand."""
    raw = text.encode("utf-8", "surrogatepass") if isinstance(text, str) else text
    deepest = level = 0
    for byte in raw.translate(None, _NO_BRACKETS):
        if byte in b"[{":
            level += 1
            deepest = max(deepest, level)
            if deepest > _DEEPEST:
                break
        else:
            level -= 1
    return deepest


def _refuse(name: str) -> NoReturn:
    raise BadRequest(f"{name} is not a number in JSON. Send null, or leave the key out.")


def _number(text: str) -> float:
    value = float(text)
    if not math.isfinite(value):
        raise BadRequest(f"{text[:40]} is too large for a 64-bit number.")
    return value


def _whole_number(text: str) -> int:
    if len(text) > _MOST_DIGITS:
        raise BadRequest(f"{text[:20]}... has {len(text)} digits, allowed are {_MOST_DIGITS}.")
    return int(text)


def _object(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        seen: set[str] = set()
        twice = next(key for key, _ in pairs if key in seen or seen.add(key))  # type: ignore[func-returns-value]
        raise BadRequest(f'The key "{twice[:80]}" stands twice in one object.')
    return found
