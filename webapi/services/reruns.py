"""Running a recorded assessment again, with the inputs it was made with, to see whether its figures still hold."""

import hashlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, Final, Literal

from sqlalchemy import select
from sqlalchemy.orm import Session

from lifetime.assessment.run import assess
from lifetime.constants import ZERO_CELSIUS_K
from lifetime.errors import InputError
from lifetime.packs.climate import climate_sha256, load_climate, monthly_means_K
from lifetime.packs.locate import find_file, shipped_ids
from lifetime.packs.withdrawn import WITHDRAWN
from lifetime.results.document import ResultDocument
from lifetime.results.study import CLIMATE_DIGITS, StudyView
from lifetime.results.upgrade import study_as_assessed
from lifetime.results.view import rounded
from lifetime.split.rule import BatteryFunction
from lifetime.study.functions import load_function
from lifetime.study.load import resolve_study
from lifetime.version import program_version
from webapi import models
from webapi.services import studies
from webapi.services.assessments import document_of, get, sources
from webapi.services.shelf import FOLDER_OF, IS_HASH, StoreShelf, climate_from_text
from webapi.store import HistoryStore

AGREES_WITHIN: Final = 1e-9
"""Relative difference below which two runs of one assessment agree."""
_FOLLOWED: Final = (
    "life_years",
    "capacity_fraction_at_service_end",
    "capacitance_fraction_at_service_end",
    "resistance_ratio_at_service_end",
    "esr_ratio_at_service_end",
    "throughput_Ah_per_year",
    "rms_current_A",
)
Pins = dict[tuple[str, str], str]


@dataclass(frozen=True, slots=True)
class Difference:
    """One figure of a stored assessment beside the same figure now.

    Args:
        place: Strategy, source and figure.
        stored: Value on record, or None.
        now: Value now, or None.
        relative: Relative difference; None where one of the two is missing.
    """

    place: str
    stored: float | None
    now: float | None
    relative: float | None


@dataclass(frozen=True, slots=True)
class ChangedInput:
    """A shipped parameter set or climate that is another one today.

    Args:
        kind: ``battery``, ``ultracapacitor`` or ``climate``.
        name: Its id.
        stored_sha256: Hash of the one that the assessment was made with, or None where the record does not say.
        today_sha256: Hash of the one shipped today, or None where none is.
        used: Which of the two the assessment was run again with.
    """

    kind: str
    name: str
    stored_sha256: str | None
    today_sha256: str | None
    used: Literal["stored", "today"]

    @property
    def words(self) -> str:
        """The change as a sentence."""
        which = "the one on record was used" if self.used == "stored" else "today's was used, for none is on record"
        gone = "is withdrawn" if self.name in WITHDRAWN else "is no longer shipped"
        what = gone if self.today_sha256 is None else "is another today"
        if self.stored_sha256 is None:
            what = "may be another today"
        return f"The {self.kind} set {self.name} {what}; {which}."


@dataclass(frozen=True, slots=True)
class Agreement:
    """Whether a stored assessment still gives the same numbers.

    Args:
        agrees: True where every figure agrees within 1e-9.
        stored_version: Version of the program that made the record.
        program_version: Version that ran it again.
        differences: Figures that differ, the largest first.
        figures: How many figures were compared.
        inputs: Shipped sets that are others today.
    """

    agrees: bool
    stored_version: str
    program_version: str
    differences: tuple[Difference, ...]
    figures: int
    inputs: tuple[ChangedInput, ...]


@dataclass(frozen=True, slots=True)
class _RecordShelf(StoreShelf):
    """The store's shelf, and the user's own split functions where their files are those of the record.

    Args:
        folder: Where the files of split functions are; None runs none.
        functions: Hash of each file that the record was made with.
    """

    folder: Path | None = None
    functions: Mapping[str, str] = field(default_factory=dict)

    def function(self, file: str, name: str) -> tuple[BatteryFunction, str]:
        """The user's function; its file is run only where it is unchanged."""
        if self.folder is None:
            return StoreShelf.function(self, file, name)
        if file not in self.functions:
            raise InputError(
                f"The record does not have the hash of {file}, so nothing says whether the file is still the same. "
                "Assess the study anew."
            )
        return load_function(self.folder / file, name, self.functions[file])


def rerun(session: Session, store: HistoryStore, key: str, functions_folder: Path | None = None) -> Agreement:
    """Run a stored assessment again, with the parameter sets and the climate it was made with, and compare.

    Args:
        session: Where.
        store: Where the histories' numbers are.
        key: Its id.
        functions_folder: Where the user's own split functions are; None runs none, as befits the service.

    Raises:
        NotFoundError: There is none.
        StudyError: What it was made from can no longer be read, or the file of a split function has changed.
        StoreError: A stored history is missing or damaged.
    """
    row = get(session, key)
    result = document_of(row)
    study = study_as_assessed(studies.data(session.get_one(models.Study, row.study_id)), result)
    pins = _pins(session, key, study, result.study)
    functions = {one.name: one.sha256 for one in result.study.functions}
    shelf = replace(
        _RecordShelf.for_document(session, store, study, pins), folder=functions_folder, functions=functions
    )
    again = ResultDocument.of(assess(resolve_study(study, row.title, shelf)))
    stored, now = dict(_figures(result)), dict(_figures(again))
    differences = [
        Difference(place, stored.get(place), now.get(place), _relative(stored.get(place), now.get(place)))
        for place in {**stored, **now}
    ]
    moved = [one for one in differences if not _same(one)]
    moved.sort(key=lambda one: -(one.relative if one.relative is not None else float("inf")))
    changed = tuple(_changed(study, pins, shelf))
    return Agreement(not moved, row.program_version, program_version(), tuple(moved), len(differences), changed)


def _pins(session: Session, key: str, study: Mapping[str, Any], told: StudyView) -> Pins:
    """Hash of each set that the assessment was made with, by kind and name."""
    pins = {(one.kind, one.cell): one.cell_sha256 for one in sources(session, key)}
    climate = study["service"].get("climate")
    if climate is not None and not IS_HASH.fullmatch(climate):
        pinned = told.service.climate_sha256 or _climate_by_values(session, climate, told.service.ambient_C)
        if pinned is not None:
            pins["climate", climate] = pinned
    return pins


def _climate_by_values(session: Session, name: str, ambient_C: tuple[float, ...]) -> str | None:
    """The climate of a record that does not have its hash: the one of that name with the temperatures that it tells."""
    kept = select(models.ParameterSet).where(models.ParameterSet.kind == "climate", models.ParameterSet.name == name)
    for row in session.scalars(kept):
        if rounded(monthly_means_K(climate_from_text(row.document)) - ZERO_CELSIUS_K, CLIMATE_DIGITS) == ambient_C:
            return row.sha256
    return None


def _changed(study: Mapping[str, Any], pins: Pins, shelf: StoreShelf) -> Iterator[ChangedInput]:
    named = [(kind, study[kind]["cell"]) for kind in ("battery", "ultracapacitor") if study.get(kind)]
    named += [("climate", study["service"]["climate"])] if study["service"].get("climate") else []
    for kind, name in named:
        if IS_HASH.fullmatch(name):
            continue
        stored, today = pins.get((kind, name)), _today(kind, name)
        if kind == "ultracapacitor" and stored is None:
            continue  # no strategy has it
        if stored != today:
            yield ChangedInput(kind, name, stored, today, "stored" if stored in shelf.sets else "today")


def _today(kind: str, name: str) -> str | None:
    """Hash of the shipped set of that name."""
    if name not in shipped_ids(FOLDER_OF[kind]):
        return None
    if kind == "climate":
        return climate_sha256(load_climate(name))
    return hashlib.sha256(find_file(name, FOLDER_OF[kind], Path()).read_bytes()).hexdigest()


def _figures(result: ResultDocument) -> Iterator[tuple[str, float | None]]:
    for strategy in result.strategies:
        cost = strategy.known_cost
        yield f"{strategy.name}: net present cost", None if cost is None else cost.net_present_cost
        for part, source in strategy.sources.items():
            for name in _FOLLOWED:
                if name in type(source).model_fields:
                    yield f"{strategy.name}, {part}: {name}", getattr(source, name)


def _relative(one: float | None, other: float | None) -> float | None:
    if one is None or other is None:
        return None
    return abs(one - other) / max(abs(one), abs(other), 1e-300)


def _same(one: Difference) -> bool:
    if one.relative is None:
        return one.stored is None and one.now is None
    return one.relative <= AGREES_WITHIN
