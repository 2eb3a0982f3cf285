"""Everything to correct in a study form at once, each named as the form names it and leading to its field."""

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from lifetime.errors import Fault, StudyError
from lifetime.study.outline import StudySection, joined
from webapi.context import context
from webapi.pages.field_text import unit_of
from webapi.pages.form_blocks import Values, input_numbers, strategy_numbers
from webapi.pages.study_fields import anchor
from webapi.pages.study_form import NEEDED, Read, history_section, roles_of, rules, study_section
from webapi.services import studies

_HISTORY: Final = re.compile(r"(strategy\[\d+\]\.(?:demand|battery|ultracapacitor))(?:\.(.+))?")
_LAST_PART: Final = re.compile(r"\.?[^.\[]+$|\[\d+\]$")
_WORD: Final = re.compile(r"\w+")


@dataclass(frozen=True, slots=True)
class FormFault:
    """One thing to correct.

    Args:
        place: Heading and label.
        message: What is wrong and what to do.
        link: Id of the field or section, or empty.
    """

    place: str
    message: str
    link: str


def form_faults(read: Read, values: Values, checked: Sequence[Fault] | None = None) -> list[Fault]:
    """All faults of a form: what cannot be read or is missing, and what the study check finds besides.

    Args:
        read: The form as read.
        values: Every field by name.
        checked: What the study check found, or None to have the study checked here.

    Returns:
        Faults whose places are names of fields, or paths of sections.
    """
    shown = list(_sections(values))
    titles = _titles(values, shown)
    outlines = {path: outline for path, _, outline in shown}
    found = list(read.faults)
    for fault in _of_the_study(read.document) if checked is None else checked:
        section, moved = _at_a_field(fault, values, titles, outlines)
        # What is empty or unreadable in a section explains what the check says of the section as a whole.
        is_said = any(one.place in (moved.place, section) or one.place.startswith(f"{section}.") for one in read.faults)
        if not is_said:
            found.append(moved)
    return list(dict.fromkeys(found))


def in_words(faults: Sequence[Fault], values: Values) -> list[FormFault]:
    """Faults as the list above the form shows them.

    Args:
        faults: With names of fields for places.
        values: Every field by name.
    """
    titles = _titles(values, list(_sections(values)))
    return [
        FormFault(titles.get(one.place, one.place), one.message, anchor(one.place) if one.place in titles else "")
        for one in faults
    ]


def _sections(values: Values) -> Iterator[tuple[str, str, StudySection]]:
    """Every section that the form shows now: its path, what it is called, and its outline."""
    study = study_section()
    yield "", "", study
    for section in study.sections:
        yield from _inner(section.key, section.title, section)
    for number in input_numbers(values):
        yield f"input[{number}]", f"History {number}", history_section()
    for number in strategy_numbers(values):
        rule = values.get(f"strategy[{number}].split.rule", "")
        if rule in rules():
            yield from _inner(f"strategy[{number}].split", f"Strategy {number}", rules()[rule])


def _inner(path: str, words: str, section: StudySection) -> Iterator[tuple[str, str, StudySection]]:
    yield path, words, section
    for inner in section.sections:
        yield from _inner(f"{path}.{inner.key}", f"{words}, {_lowered(inner.title)}", inner)


def _titles(values: Values, sections: Sequence[tuple[str, str, StudySection]]) -> dict[str, str]:
    """What each field and section that is shown is called."""
    titles = {"strategy": "Strategies", "upload": "Upload"}
    for path, words, section in sections:
        if path:
            titles[path] = words
        for key in section.keys:
            unit = unit_of(key)
            label = f"{key.title} [{unit}]" if unit else key.title
            titles[joined(path, key.key)] = f"{words}, {_lowered(label)}" if words else label
    for number in strategy_numbers(values):
        lead, words = f"strategy[{number}]", f"Strategy {number}"
        titles |= {lead: words, f"{lead}.name": f"{words}, name", f"{lead}.split.rule": f"{words}, rule"}
        titles |= {f"{lead}.{role}": f"{words}, {role}" for role in roles_of(values.get(f"{lead}.split.rule", ""))}
    return titles


def _at_a_field(
    fault: Fault, values: Values, titles: Mapping[str, str], outlines: Mapping[str, StudySection]
) -> tuple[str, Fault]:
    """Where a fault of the study check was found, and the fault at the field that it is about, in the form's words."""
    place = "" if fault.place == "study" else fault.place
    match = _HISTORY.fullmatch(place)
    if match is not None and values.get(match[1], "").isdecimal():
        place = f"input[{values[match[1]]}]" + (f".{match[2]}" if match[2] else "")
    while place and place not in titles:
        place = _LAST_PART.sub("", place)
    message = NEEDED if fault.message.startswith("is missing") else fault.message
    section = outlines.get(place)
    if section is None or message == NEEDED:
        return place, Fault(place, message)
    names = {one.key: one.title for one in section.keys} | {one.key: one.title for one in section.sections}
    first = next((word for word in _WORD.findall(message) if word in names), None)
    field = place if first is None else joined(place, first)
    # A key that is an ordinary word as well is left as it is.
    titled = {key: f"“{title}”" for key, title in names.items() if "_" in key}
    message = _WORD.sub(lambda word: titled.get(word[0], word[0]), message)
    return place, Fault(field or "study", message)


def _of_the_study(document: Mapping[str, Any]) -> Sequence[Fault]:
    held = context()
    try:
        with held.factory() as session:
            studies.check(session, held.store, document, limits=held.settings.study_limits)
    except StudyError as error:
        return error.faults
    return ()


def _lowered(words: str) -> str:
    """Words in the middle of a line; abbreviations keep their capitals."""
    return words if words[1:2].isupper() else words[:1].lower() + words[1:]
