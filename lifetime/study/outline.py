"""The schema read back: every section with its keys, for whoever shows it (the form, the README's tables)."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from inspect import get_annotations
from types import NoneType, UnionType
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

Kind = Literal["number", "integer", "text", "choice", "yes_no", "numbers", "texts", "choices", "rows", "matrix", "keys"]
"""What a key takes: one value, several in a row, a table of keys (rows) or of numbers (matrix), or any keys."""

_ONE: Mapping[type, Kind] = {bool: "yes_no", int: "integer", float: "number", str: "text"}
_SEVERAL: Mapping[str, Kind] = {"number": "numbers", "integer": "numbers", "text": "texts", "choice": "choices"}
_BOUNDS = ("ge", "gt", "le", "lt")


@dataclass(frozen=True, slots=True)
class StudyKey:
    """One key of a section.

    Args:
        key: As a study file spells it.
        title: What people call it, without unit.
        description: One sentence, or empty.
        unit: Of its numbers; empty for none.
        example: A sensible value, or None.
        kind: What it takes.
        required: Whether it must be given.
        default: Its value where it is left out; None where there is none.
        bounds: Of its numbers, by ``ge``, ``gt``, ``le`` and ``lt``.
        choices: The values it may take, for choices.
        columns: The keys of one row, for rows.
        one_allowed: Whether one number may be given in place of several.
        more: Hints of the schema for forms, see ``lifetime.keys.about``.
    """

    key: str
    title: str
    description: str
    unit: str
    example: Any
    kind: Kind
    required: bool
    default: Any
    bounds: Mapping[str, float]
    choices: tuple[str, ...]
    columns: tuple["StudyKey", ...]
    one_allowed: bool
    more: Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class StudySection:
    """One section of a study.

    Args:
        key: As a study file spells it; empty for the study itself.
        title: What people call it.
        description: One sentence, or empty.
        optional: Whether there may be no such section; false also where one of defaults takes its place.
        keys: Its keys.
        sections: The sections in it.
    """

    key: str
    title: str
    description: str
    optional: bool
    keys: tuple[StudyKey, ...]
    sections: tuple["StudySection", ...]

    def walk(self, lead: str = "") -> Iterator[tuple[str, StudyKey]]:
        """Every key in it and below, with its path.

        Args:
            lead: Path of the section itself.
        """
        for key in self.keys:
            yield joined(lead, key.key), key
        for section in self.sections:
            yield from section.walk(joined(lead, section.key))


def outline(model: type[BaseModel], *, without: frozenset[str] = frozenset()) -> StudySection:
    """A model with all that is in it.

    Args:
        model: A section of the study's schema.
        without: Keys to leave out.
    """
    return _section("", model, None, optional=False, without=without)


def variants(model: type[BaseModel], key: str) -> dict[str, StudySection]:
    """The alternatives of a key that takes one of several sections, by the word that tells them apart.

    Args:
        model: The section that has the key.
        key: The key, such as ``split`` with the discriminator ``rule``.
    """
    alternatives = [part for part, _ in _parts(model.model_fields[key].annotation)]
    return {
        _tag(part): _section(_tag(part), part, None, optional=False, without=frozenset({"rule"}))
        for part in alternatives
    }


def joined(lead: str, key: str) -> str:
    """A key's path.

    Args:
        lead: Path of its section; empty for the study itself.
        key: As a study file spells it.
    """
    return f"{lead}.{key}" if lead else key


def _tag(model: type[BaseModel]) -> str:
    return str(get_args(model.model_fields["rule"].annotation)[0])


def _section(
    key: str, model: type[BaseModel], field: FieldInfo | None, *, optional: bool, without: frozenset[str]
) -> StudySection:
    keys, sections = [], []
    own = get_annotations(model)
    # What a class adds comes before what all of its kind have.
    for name, inner in sorted(model.model_fields.items(), key=lambda item: item[0] not in own):
        parts = _parts(inner.annotation)
        models = [part for part, _ in parts if isinstance(part, type) and issubclass(part, BaseModel)]
        if name in without or len(models) > 1:
            continue
        if models:
            may_miss = not inner.is_required() and inner.default is None
            sections.append(_section(name, models[0], inner, optional=may_miss, without=frozenset()))
        else:
            keys.append(_key(name, inner, parts))
    title = (field.title if field else None) or model.model_config.get("title") or _words(key)
    text = (field.description if field else None) or (model.__doc__ or "").split("\n")[0]
    return StudySection(key, title, text, optional, tuple(keys), tuple(sections))


def _key(name: str, field: FieldInfo, parts: list[tuple[Any, list[Any]]]) -> StudyKey:
    more: dict[str, Any] = dict(field.json_schema_extra) if isinstance(field.json_schema_extra, dict) else {}
    unit = str(more.pop("unit", ""))
    kind, inner, metadata = _kind_of(*parts[-1])
    limits = [*metadata, *field.metadata]
    return StudyKey(
        key=name,
        title=field.title or _words(name),
        description=field.description or "",
        unit="" if unit == "1" else unit,
        example=field.examples[0] if field.examples else None,
        kind=kind,
        required=field.is_required(),
        default=None if field.is_required() else field.get_default(call_default_factory=True),
        bounds={name: getattr(limit, name) for limit in limits for name in _BOUNDS if hasattr(limit, name)},
        choices=tuple(str(one) for one in get_args(inner)) if kind in ("choice", "choices") else (),
        columns=outline(inner).keys if kind == "rows" else (),
        one_allowed=len(parts) > 1,
        more=more,
    )


def _kind_of(part: Any, metadata: list[Any]) -> tuple[Kind, Any, list[Any]]:
    """Kind, the type at the bottom, and what limits its values."""
    if get_origin(part) is Literal:
        return "choice", part, metadata
    if get_origin(part) is dict:
        return "keys", part, metadata
    if get_origin(part) is not tuple:
        return _ONE[part], part, metadata
    inner, limits = _parts(get_args(part)[0])[0]
    if get_origin(inner) is tuple:
        return "matrix", inner, limits
    if isinstance(inner, type) and issubclass(inner, BaseModel):
        return "rows", inner, limits
    return _SEVERAL[_kind_of(inner, limits)[0]], inner, limits


def _parts(annotation: Any) -> list[tuple[Any, list[Any]]]:
    """The types that an annotation allows besides None, each with its own limits."""
    origin = get_origin(annotation)
    if origin is Annotated:
        inner, *metadata = get_args(annotation)
        flat = [item for one in metadata for item in (one.metadata if isinstance(one, FieldInfo) else [one])]
        return [(part, [*limits, *flat]) for part, limits in _parts(inner)]
    if origin in (Union, UnionType):
        return [found for part in get_args(annotation) if part is not NoneType for found in _parts(part)]
    return [(annotation, [])]


def _words(key: str) -> str:
    return key.replace("_", " ")[:1].upper() + key.replace("_", " ")[1:]
