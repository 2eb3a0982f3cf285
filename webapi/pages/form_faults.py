"""Everything that needs mending in a study form at once, each named as the form names it."""

import re
from collections.abc import Mapping, Sequence
from typing import Any, Final

from lifetime.errors import Fault, StudyError
from webapi.context import context
from webapi.pages.study_fields import ROLE_WORDS, SPLIT_FIELDS, Group
from webapi.pages.study_form import Read, Values
from webapi.services import studies

_BLOCK: Final = re.compile(r"(input|strategy)\[(\d+)\]")
_BLOCK_WORDS: Final = {"input": "History", "strategy": "Strategy"}
_NEEDED: Final = "is needed."
_OWN_WORDS: Final = {"title": "Title", "strategy": "Strategies"}
_IN_BLOCKS: Final = {
    "name": "name",
    "way": "how it shares the power",
    "demand": "the demand it shares",
    "battery": "the battery's history",
    "ultracapacitor": "the bank's history",
    "discharge_is": "sign of discharge",
    **{role: words.partition(",")[0].partition(" (")[0].lower() for role, words in ROLE_WORDS.items()},
    **{f"split.{field.key}": field.label for field in SPLIT_FIELDS},
}


def form_faults(read: Read, values: Values, groups: Sequence[Group]) -> list[Fault]:
    """All faults of a form that has some: what cannot be read, what is empty, and what the study check finds besides.

    Args:
        read: The form as read.
        values: Every field by name.
        groups: The groups of fields.
    """
    found = list(read.faults)
    fields = [field for group in groups for field in group.fields if field.required]
    empty = [field.key for field in fields if not values.get(field.key, "").strip()]
    found += [Fault(key, _NEEDED) for key in empty if not _is_said(key, found)]
    for one in _of_the_study(read.document):
        if not _is_said(one.place, found):
            found.append(Fault(one.place, _NEEDED) if one.message.startswith("is missing") else one)
    return found


def place_words(place: str, groups: Sequence[Group]) -> str:
    """A fault's place as the form's labels call it.

    Args:
        place: A field's name, which is its path of keys in a study.
        groups: The groups of fields.
    """
    for group in groups:
        for field in group.fields:
            if field.key == place:
                return f"{group.heading}, {field.label[:1].lower()}{field.label[1:]}"
    match = _BLOCK.match(place)
    if match is None:
        return _OWN_WORDS.get(place, place)
    rest = place[match.end() :].removeprefix(".")
    words = f"{_BLOCK_WORDS[match[1]]} {match[2]}"
    return f"{words}, {_IN_BLOCKS.get(rest, rest)}" if rest else words


def _of_the_study(document: Mapping[str, Any]) -> Sequence[Fault]:
    held = context()
    try:
        with held.factory() as session:
            studies.check(session, held.store, document)
    except StudyError as error:
        return error.faults
    return ()


def _is_said(place: str, found: Sequence[Fault]) -> bool:
    """Whether a fault of that place, of a part of it, or of the strategy it is in, is there already."""
    block = _BLOCK.match(place)
    lead = f"{place}." if block is None else block[0]
    return any(one.place == place or one.place.startswith(lead) for one in found)
