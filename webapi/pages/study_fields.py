"""The schema's sections and keys as the fields of the study form, ready for the template."""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from typing import Final, Literal

from lifetime.packs.locate import shipped_ids
from lifetime.study.outline import StudyKey, StudySection, joined
from lifetime.units import known_units
from webapi.pages.field_text import expected, shown, unit_of
from webapi.pages.form_blocks import Values
from webapi.pages.study_form import is_filled, is_needed

Control = Literal["input", "lines", "area", "select", "checks"]
_CHOSEN: Final = frozenset({"column", "shipped", "unit_of"})
"""Hints of the schema that make a choice of a text; its options are examples enough."""
_CONTROLS: Final[Mapping[str, Control]] = {"choices": "checks", "texts": "lines", "rows": "area", "matrix": "area"}


@dataclass(frozen=True, slots=True)
class FormField:
    """One field.

    Args:
        name: Its name, which is its path of keys.
        id: For links to it.
        label: Title with the unit in square brackets.
        hint: What it means, what it takes, its default or an example.
        needed: Whether it must be filled in.
        control: What is shown.
        value: What is in it.
        options: For selects and checks: value and words.
        numeric: Whether it takes one number.
        fault: What is wrong with it, or empty.
    """

    name: str
    id: str
    label: str
    hint: str
    needed: bool
    control: Control
    value: str
    options: Sequence[tuple[str, str]]
    numeric: bool
    fault: str


@dataclass(frozen=True, slots=True)
class FormSection:
    """Fields under one heading.

    Args:
        id: For links to it.
        title: The heading.
        text: One sentence below it.
        optional: Whether it may stay empty.
        unfolded: Whether it is shown at once: something is filled in, or wrong.
        fields: Its fields.
        sections: The sections in it.
    """

    id: str
    title: str
    text: str
    optional: bool
    unfolded: bool
    fields: Sequence[FormField]
    sections: Sequence["FormSection"]


@dataclass(frozen=True, slots=True)
class FieldMaker:
    """Makes fields of the schema's keys.

    Args:
        values: Every field of the form by name.
        faults: What is wrong, by the field's name.
        columns: Names of the columns of each history, by the history's path.
    """

    values: Values
    faults: Mapping[str, str]
    columns: Callable[[str], Sequence[str]]

    def section(self, section: StudySection, lead: str = "") -> FormSection:
        """A section with all that is in it.

        Args:
            section: The section.
            lead: Its path.
        """
        names = [name for name, _ in section.walk(lead)]
        return FormSection(
            id=anchor(lead),
            title=section.title,
            text=section.description,
            optional=section.optional,
            unfolded=is_filled(section, lead, self.values) or any(name in self.faults for name in names),
            fields=[self.field(key, lead) for key in section.keys],
            sections=[self.section(inner, joined(lead, inner.key)) for inner in section.sections],
        )

    def grouped(self, section: StudySection, lead: str) -> Iterator[FormSection]:
        """A history's keys under the headings that the schema names; those without a heading first, the file nowhere.

        Args:
            section: The section.
            lead: Its path.
        """
        shown_keys = [key for key in section.keys if key.key != "file"]
        keys = sorted(shown_keys, key=lambda key: list(_groups(section)).index(_group(key)))
        for title, found in groupby(keys, key=_group):
            made = self.section(StudySection(title, title, "", bool(title), tuple(found), ()), lead)
            yield replace(made, id=f"{anchor(lead)}-{title.lower().replace(' ', '-')}")

    def field(self, key: StudyKey, lead: str) -> FormField:
        """One field.

        Args:
            key: The key.
            lead: Path of the section it is in.
        """
        name = joined(lead, key.key)
        chosen_default = key.kind in ("choice", "yes_no") and key.default is not None and not is_needed(key)
        value = self.values.get(name, shown(key, key.default) if chosen_default else "")
        options = _options(key, self.columns(lead))
        unit = unit_of(key)
        if options is not None and value and value not in [one for one, _ in options] and key.kind != "choices":
            # Such as a parameter set that a stored study names by its hash.
            options = [*options, (value, value)]
        if options is not None and key.kind != "choices" and not chosen_default:
            options = [("", _blank(key)), *options]
        return FormField(
            name=name,
            id=anchor(name),
            label=f"{key.title} [{unit}]" if unit else key.title,
            hint=_hint(key),
            needed=is_needed(key),
            control=_control(key, options),
            value=value,
            options=options or (),
            numeric=key.kind in ("number", "integer"),
            fault=self.faults.get(name, ""),
        )


def anchor(name: str) -> str:
    """The id of a field or section, for links.

    Args:
        name: Its path, such as ``strategy[2].split.time_constant_s``.
    """
    return name.replace("].", "-").replace("[", "-").replace("]", "").replace(".", "-") or "study"


def _control(key: StudyKey, options: Sequence[tuple[str, str]] | None) -> Control:
    return _CONTROLS.get(key.kind, "input" if options is None else "select")


def _options(key: StudyKey, columns: Sequence[str]) -> list[tuple[str, str]] | None:
    """What may be chosen; None where the value is typed."""
    if key.kind == "yes_no":
        return [("yes", "yes"), ("no", "no")]
    if key.choices:
        words = key.more.get("choices", {})
        return [(one, words.get(one, one.replace("_", " "))) for one in key.choices]
    if "shipped" in key.more:
        return [(one, one) for one in shipped_ids(key.more["shipped"])]
    if "unit_of" in key.more:
        return [(one, one) for one in known_units(key.more["unit_of"])]
    if key.more.get("column") and key.kind == "text":
        return [(one, one) for one in columns]
    return None


def _blank(key: StudyKey) -> str:
    """The words of a choice not made."""
    if is_needed(key):
        return "choose"
    if "unit_of" in key.more:
        return "as in the header"
    return "none" if key.more.get("column") else "not given"


def _hint(key: StudyKey) -> str:
    parts = [key.description, expected(key)]
    if key.kind not in ("choice", "yes_no", "choices"):
        if key.default is not None:
            parts.append(f"Default: {shown(key, key.default)}.")
        elif key.example is not None and not _CHOSEN & set(key.more):
            parts.append(f"Example: {shown(key, key.example)}".replace("\n", ", "))
    return " ".join(part for part in parts if part)


def _group(key: StudyKey) -> str:
    return str(key.more.get("group", ""))


def _groups(section: StudySection) -> dict[str, None]:
    return {"": None, **dict.fromkeys(_group(key) for key in section.keys)}
