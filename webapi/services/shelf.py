"""Where a study of the service finds what it names: stored ids and shipped sets, never a path of the server."""

import hashlib
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Final, Self

from sqlalchemy import select
from sqlalchemy.orm import Session

from lifetime.checks import FloatArray, as_floats
from lifetime.errors import HistoryError, InputError, ProfileError
from lifetime.history.cleaning.sample_stream import SampleStream
from lifetime.history.model import History
from lifetime.history.open import surveyed_history
from lifetime.history.spec import HistoryInput
from lifetime.packs.cell import Cell
from lifetime.packs.climate import load_climate
from lifetime.packs.load import cell_from_profile, load_cell
from lifetime.packs.locate import Folder, shipped_ids
from lifetime.packs.profile import Kind
from lifetime.packs.read import parse_profile
from lifetime.packs.withdrawn import refuse_withdrawn
from lifetime.results.upgrade import upgrade_parameter_set
from lifetime.split.rule import BatteryFunction
from webapi import models
from webapi.store import HistoryStore

IS_HASH: Final = re.compile(r"[0-9a-f]{64}")
FOLDER_OF: Final[dict[str, Folder]] = {
    "battery": "batteries",
    "ultracapacitor": "ultracapacitors",
    "climate": "climates",
}
LAYOUT_KEYS: Final = ("header_row", "decimal", "sheet", "bus_database")
"""Keys of a history that only concern files not stored yet."""
_NOWHERE: Final = Path("/nonexistent")
"""Base for shipped ids, which need none."""


@dataclass(frozen=True, slots=True)
class StoreShelf:
    """What was looked up for one study; holds no session.

    Args:
        store: Where the histories' numbers are.
        histories: Stored histories that the study names, by id.
        sets: Stored parameter sets that it names or that are pinned, by hash.
        pins: Hash of the parameter set to use for a kind and name, as when an assessment is run again.
    """

    store: HistoryStore
    histories: Mapping[str, models.History]
    sets: Mapping[str, models.ParameterSet]
    pins: Mapping[tuple[str, str], str] = field(default_factory=dict)

    @classmethod
    def for_document(
        cls,
        session: Session,
        store: HistoryStore,
        document: Mapping[str, Any],
        pins: Mapping[tuple[str, str], str] | None = None,
    ) -> Self:
        """Look up what a study names, and end the transaction.

        Args:
            session: Where.
            store: Where the histories' numbers are.
            document: The study as plain data, checked or not.
            pins: Parameter sets to use in place of today's shipped ones.
        """
        pinned = dict(pins or {})
        hashes = {text for text in _texts(document) if IS_HASH.fullmatch(text)}
        stored = session.scalars(select(models.History).where(models.History.id.in_(hashes))).all()
        wanted = hashes | set(pinned.values())
        sets = session.scalars(select(models.ParameterSet).where(models.ParameterSet.sha256.in_(wanted))).all()
        session.commit()
        return cls(store, {one.id: one for one in stored}, {one.sha256: one for one in sets}, pinned)

    def cell(self, name: str, kind: Kind) -> Cell:
        """A stored parameter set by hash, or a shipped one by id; a withdrawn one only where it is pinned."""
        stored = self._stored(name, kind)
        if stored is not None:
            if (kind, name) not in self.pins:
                refuse_withdrawn(stored.name, shipped_ids(FOLDER_OF[kind]))
            return cell_from_profile(
                parse_profile(upgrade_parameter_set(stored.document), stored.name), stored.name, stored.sha256
            )
        _require_shipped(name, kind)
        return load_cell(name, kind, _NOWHERE)

    def climate(self, given: str | float | Sequence[float]) -> FloatArray:
        """A stored climate by hash, a shipped one by name, or the values as given."""
        if isinstance(given, str):
            stored = self._stored(given, "climate")
            if stored is not None:
                return climate_from_text(stored.document)
            _require_shipped(given, "climate")
        return load_climate(given, _NOWHERE)

    def history(self, spec: HistoryInput, *, series: int, parallel: int) -> History:
        """A stored history by id."""
        _refuse_layout(spec)
        row = self.histories.get(spec.file)
        if row is None:
            raise HistoryError(
                "no history is stored under this id.",
                file=spec.file[:80],
                remedy="Upload the history, and give the id that the upload answers with; paths are not read here.",
            )
        reader = self.store.reader(row.store_key, self._label(row))
        stream = SampleStream.of_spec(spec, reader, series=series, parallel=parallel)
        return surveyed_history(spec, stream, paths=(reader.path,), sha256=lambda: row.id)

    def function(self, file: str, name: str) -> tuple[BatteryFunction, str]:
        """Never: a stranger's code is not run here."""
        raise InputError(
            f"The split function {name[:80]} is not run by the service. Use it at the command line, or give the rule "
            "as a lookup table."
        )

    def _stored(self, name: str, kind: str) -> models.ParameterSet | None:
        row = self.sets.get(self.pins.get((kind, name), name))
        if row is not None and row.kind != kind:
            raise ProfileError(f"{row.name}: kind must be {kind} here, got {row.kind}.")
        if row is not None and not is_whole(row):
            raise ProfileError(f"{row.name}: its text in the database has changed. Run packwear db repair.")
        return row

    def _label(self, row: models.History) -> str:
        """The name as given; where two files of one study share it, with the beginning of the id."""
        names = [one.file_name for one in self.histories.values()]
        return row.file_name if names.count(row.file_name) == 1 else f"{row.file_name} ({row.id[:8]})"


def is_whole(row: models.ParameterSet) -> bool:
    """Whether the text on record is the one whose hash it is kept under.

    Args:
        row: A parameter set.
    """
    # packwear 0.1 kept the text with the line ends of its machine, and the hash of the file's own.
    ends = (row.document, row.document.replace("\n", "\r\n"))
    return row.sha256 in (hashlib.sha256(one.encode()).hexdigest() for one in ends)


def climate_from_text(text: str) -> FloatArray:
    """Ambient temperature [K] by month, shape (12,), or by hour, shape (8760,), from a stored climate.

    Args:
        text: The temperatures [K], one a line.
    """
    return as_floats([float(line) for line in text.split()], "ambient temperature [K]")


def _require_shipped(name: str, kind: str) -> None:
    known = shipped_ids(FOLDER_OF[kind])
    refuse_withdrawn(name, known)
    if name not in known:
        raise ProfileError(
            f'"{name[:80]}" is not one of the shipped {FOLDER_OF[kind]}. Shipped: {", ".join(known)}. '
            "Files of the server are not read here."
        )


def _refuse_layout(spec: HistoryInput) -> None:
    """Refuse what only concerns files that were not stored yet."""
    given = [key for key in LAYOUT_KEYS if getattr(spec, key) is not None]
    if given:
        raise HistoryError(
            f"{given[0]} has no meaning for a stored history, whose layout was settled when it was uploaded.",
            file=spec.file[:80],
            remedy="Leave the key out, or upload the file again and state it there.",
        )


def _texts(value: Any) -> Iterator[str]:
    if isinstance(value, str):
        yield value
    elif isinstance(value, Mapping):
        for item in value.values():
            yield from _texts(item)
    elif isinstance(value, list | tuple):
        for item in value:
            yield from _texts(item)
