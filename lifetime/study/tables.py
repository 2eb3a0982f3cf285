"""The README's tables of keys, written from the schema: ``python -m lifetime.study.tables`` prints them."""

from collections.abc import Iterator, Sequence
from typing import Any

from lifetime.history.spec import HistoryInput
from lifetime.study.outline import StudyKey, StudySection, outline
from lifetime.study.schema import Strategy, Study


def study_table() -> str:
    """All sections of a study and their keys as a Markdown table."""
    study = outline(Study, without=frozenset({"strategy"}))
    strategy = outline(Strategy)
    rows = [row for place, section in _sections(study, "") for row in _rows(place, section)]
    rows += _rows("[[strategy]]", strategy)
    rows += [_row("", one.key, f"**{one.title}**. {one.description}") for one in strategy.sections]
    split = Strategy.model_fields["split"]
    rows.append(_row("", "split", f"**{split.title}**. {split.description}"))
    return _table(("section", "key", "meaning"), rows)


def history_table() -> str:
    """All keys of a history as a Markdown table."""
    return _table(
        ("history key", "meaning"), [_cells(f"`{path}`", _meaning(key)) for path, key in outline(HistoryInput).walk()]
    )


def _sections(section: StudySection, place: str) -> Iterator[tuple[str, StudySection]]:
    yield (f"[{place}]" if place else ""), section
    for inner in section.sections:
        yield from _sections(inner, f"{place}.{inner.key}" if place else inner.key)


def _rows(place: str, section: StudySection) -> list[str]:
    return [_row("" if number else place, key.key, _meaning(key)) for number, key in enumerate(section.keys)]


def _row(place: str, key: str, meaning: str) -> str:
    return _cells(f"`{place}`" if place else "", f"`{key}`", meaning)


def _meaning(key: StudyKey) -> str:
    unit = f" [{key.unit}]" if key.unit else ""
    words = f"**{key.title}**{unit}. {key.description}"
    if key.required:
        words += " Required."
    if key.kind in ("choice", "choices"):
        words += f" One of {', '.join(f'`{_text(one)}`' for one in key.choices)}."
    return words if key.default in (None, ()) else f"{words} Default: `{_text(key.default)}`."


def _text(value: Any) -> str:
    """A value as a study file spells it."""
    if isinstance(value, bool):
        return str(value).lower()
    return f'"{value}"' if isinstance(value, str) else f"{value:g}"


def _table(heads: Sequence[str], rows: Sequence[str]) -> str:
    return "\n".join([_cells(*heads), _cells(*("---" for _ in heads)).replace(" ", ""), *rows])


def _cells(*cells: str) -> str:
    return f"| {' | '.join(cells)} |".replace("|  |", "| |")


if __name__ == "__main__":
    print(study_table(), history_table(), sep="\n\n")  # noqa: T201 - the README's author reads it
