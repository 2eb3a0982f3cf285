"""Whether database and store fit each other."""

from dataclasses import dataclass

from sqlalchemy import func, select, text
from sqlalchemy.orm import Session

from webapi import models
from webapi.store import HistoryStore


@dataclass(frozen=True, slots=True)
class Examination:
    """What was found.

    Args:
        sound: True where nothing is wrong.
        lines: Findings in words.
    """

    sound: bool
    lines: tuple[str, ...]


def examine(session: Session, store: HistoryStore) -> Examination:
    """Count what is there, and look for rows that point at nothing.

    Args:
        session: The database.
        store: Where the histories' numbers are.
    """
    counted = {
        name: session.scalar(select(func.count()).select_from(model)) or 0
        for name, model in (
            ("histories", models.History),
            ("studies", models.Study),
            ("assessments", models.Assessment),
            ("jobs", models.Job),
            ("tokens", models.Token),
        )
    }
    lines = ["The database fits the program: " + ", ".join(f"{count} {name}" for name, count in counted.items()) + "."]
    sound = True
    if session.get_bind().dialect.name == "sqlite":
        broken = session.execute(text("PRAGMA foreign_key_check")).all()
        if broken:
            sound = False
            lines.append(f"Rows that point at rows that are gone: {len(broken)}. Restore a backup.")
    keys = session.scalars(select(models.History.store_key)).all()
    missing = [key for key in keys if not store.has(key)]
    if missing:
        sound = False
        lines.append(f"Histories missing from the store: {len(missing)}, the first {missing[0]}. Restore them.")
    return Examination(sound, tuple(lines))
