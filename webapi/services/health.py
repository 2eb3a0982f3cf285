"""Whether database and store are whole and fit each other; nothing is changed."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from sqlalchemy import func, select, text
from sqlalchemy.orm import Session

from webapi import models
from webapi.services.shelf import is_whole
from webapi.services.studies import histories_of
from webapi.store import HistoryStore
from webapi.store.integrity import Condition

_MOST_NAMED: Final = 50
_BATCH: Final = 500
_DAMAGED: Final = (
    "The database's file is damaged. Stop the service, run packwear db repair, and restore a backup where that does "
    "not help."
)


@dataclass(frozen=True, slots=True)
class Examination:
    """What was found.

    Args:
        sound: True where nothing is damaged or missing.
        lines: Findings in words.
    """

    sound: bool
    lines: tuple[str, ...]


def examine(session: Session, store: HistoryStore) -> Examination:
    """Walk through database and store, and name what is damaged or missing.

    Args:
        session: The database.
        store: Where the histories' numbers are.

    Raises:
        StoreError: The store does not answer.
    """
    broken = database_faults(session, "quick_check")
    if broken:
        # What such a database says about the store could be wrong as well.
        return Examination(sound=False, lines=tuple(broken))
    found = _conditions(session, store)
    damage = [*_histories(found), *_parameter_sets(session)]
    remarks = [*_unproven(found), *_studies(session), *_nobodys_files(session, store)]
    return Examination(not damage, (_counts(session), *damage, *remarks))


def database_faults(session: Session, check: str) -> list[str]:
    """What SQLite finds wrong with its own file; PostgreSQL watches over its own.

    Args:
        session: The database.
        check: ``quick_check``, or ``integrity_check``, which also holds every index against its table.
    """
    if session.get_bind().dialect.name != "sqlite":
        return []
    found = [row[0] for row in session.execute(text(f"PRAGMA {check}({_MOST_NAMED})")) if row[0] != "ok"]
    if found:
        return [
            f"{_DAMAGED} SQLite says:",
            *(line for one in found for line in str(one).splitlines()),
        ]
    pointing = session.execute(text("PRAGMA foreign_key_check")).all()
    tables = ", ".join(sorted({str(row[0]) for row in pointing}))
    return (
        [f"Rows that point at rows that are gone: {len(pointing)} in {tables}. Restore a backup."] if pointing else []
    )


def sets_not_whole(session: Session) -> Iterator[tuple[str, str, str]]:
    """Hash, kind and name of each parameter set that assessments used and whose text is missing or another.

    Args:
        session: The database.
    """
    used = select(models.AssessmentSource.cell_sha256, models.AssessmentSource.kind, models.AssessmentSource.cell)
    wanted = {row[0]: (row[1], row[2]) for row in session.execute(used.distinct()) if row[0]}
    for one in session.scalars(select(models.ParameterSet)):
        wanted.pop(one.sha256, None)
        if not is_whole(one):
            yield one.sha256, one.kind, one.name
    for key, (kind, name) in wanted.items():
        yield key, kind, name


def _counts(session: Session) -> str:
    tables: Mapping[str, type[models.Base]] = {
        "histories": models.History,
        "studies": models.Study,
        "assessments": models.Assessment,
        "jobs": models.Job,
        "tokens": models.Token,
    }
    counted = {name: session.scalar(select(func.count()).select_from(model)) or 0 for name, model in tables.items()}
    return "The database fits the program: " + ", ".join(f"{count} {name}" for name, count in counted.items()) + "."


def _histories(found: Mapping[Condition, Sequence[str]]) -> Iterator[str]:
    for condition in ("missing", "damaged"):
        yield from _named(
            found.get(condition, ()),
            f"Histories {condition} in the store",
            "Upload these files again, or give them to packwear db repair.",
        )


def _unproven(found: Mapping[Condition, Sequence[str]]) -> Iterator[str]:
    if "unproven" in found:
        yield (
            "Histories stored before the program kept the hash of the stored file, so that damage would not show: "
            f"{len(found['unproven'])}. packwear db repair takes their hash as they are now."
        )


def _conditions(session: Session, store: HistoryStore) -> Mapping[Condition, Sequence[str]]:
    """The histories in each condition, by name; every stored file is read once."""
    query = select(models.History.id, models.History.file_name, models.History.store_key).order_by(models.History.id)
    found: dict[Condition, list[str]] = {}
    for key, name, store_key in session.execute(query).all():
        found.setdefault(store.condition(store_key), []).append(f'"{name}" ({key[:12]})')
    return found


def _parameter_sets(session: Session) -> Iterator[str]:
    named = [f"{kind} {name} ({key[:12]})" for key, kind, name in sets_not_whole(session)]
    yield from _named(named, "Parameter sets missing or changed in the database", "Run packwear db repair.")


def _studies(session: Session) -> Iterator[str]:
    held = set(session.scalars(select(models.History.id)))
    query = select(models.Study.title, models.Study.document).execution_options(yield_per=_BATCH)
    named = [f'"{title}"' for title, document in session.execute(query) if histories_of(document) - held]
    yield from _named(
        named, "Studies whose histories are gone, which cannot be run again", "Upload the histories if they shall be."
    )


def _nobodys_files(session: Session, store: HistoryStore) -> Iterator[str]:
    held = set(session.scalars(select(models.History.store_key)))
    sizes = [size for key, size in store.entries() if key not in held]
    if sizes:
        yield (
            f"Files in the store that no history names: {len(sizes)} with {sum(sizes)} bytes, left by interrupted "
            "uploads or by histories that were stored anew. They do no harm."
        )


def _named(named: Sequence[str], what: str, remedy: str) -> Iterator[str]:
    if named:
        more = f" and {len(named) - _MOST_NAMED} more" if len(named) > _MOST_NAMED else ""
        yield f"{what}: {len(named)}. {', '.join(named[:_MOST_NAMED])}{more}. {remedy}"
