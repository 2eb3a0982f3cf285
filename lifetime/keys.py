"""What a key of a study tells a person: title, unit, hint and example, kept in the schema itself."""

from typing import Any

from pydantic import Field


def about(title: str, description: str, *, unit: str | None = None, example: Any = None, **more: Any) -> Any:
    """Metadata for a field of the schema; form, README table and OpenAPI text are made from it.

    Args:
        title: What a form calls the key, without its unit.
        description: One sentence: what it means and what holds where it is left out.
        unit: Unit of the number; ``fraction`` is shown as % to people, ``currency`` is the study's own; None for text.
        example: A sensible value, as a study file gives it.
        more: Hints for forms: ``choices`` (words of each value), ``shipped`` (kind of parameter set to choose from),
            ``group`` (heading), ``column`` (names a column of the history), ``asked`` (never left to its default),
            ``file_only`` (only concerns files that are not stored yet).

    Returns:
        A pydantic ``FieldInfo`` for use in ``Annotated``.
    """
    extra = {**({} if unit is None else {"unit": unit}), **more}
    return Field(
        title=title,
        description=description,
        examples=None if example is None else [example],
        json_schema_extra=extra or None,
    )
