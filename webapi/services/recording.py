"""Putting an assessment on record, once, with everything that is needed to run it again."""

import hashlib
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path
from typing import Any

from sqlalchemy.orm import Session

from lifetime.errors import InputError
from lifetime.history.spec import HistoryInput
from lifetime.packs.cell import Cell
from lifetime.packs.climate import climate_sha256, climate_text
from lifetime.packs.locate import find_file, shipped_ids
from lifetime.results.document import ResultDocument
from lifetime.results.records import Assessment
from lifetime.results.row import SourceRow, source_rows
from lifetime.study.load import LoadedStudy
from lifetime.study.schema import Study
from webapi import models
from webapi.database import write
from webapi.services import studies
from webapi.services.assessments import COLUMN_OF
from webapi.services.insert_once import insert_once
from webapi.services.local_histories import keep_history
from webapi.services.shelf import FOLDER_OF
from webapi.store import HistoryStore
from webapi.types import utc_now


def record_files(
    session: Session, store: HistoryStore, loaded: LoadedStudy, assessment: Assessment, base: Path
) -> tuple[models.Assessment, bool]:
    """Record an assessment made from files; their content is stored, so that it can be run again without them.

    Args:
        session: Where.
        store: Where the histories' numbers go.
        loaded: The study as assessed.
        assessment: Its result.
        base: Folder that the study's paths start from.

    Returns:
        The row, and whether it is new.

    Raises:
        InputError: The study has something that a record cannot hold, such as a split function given in Python.
        StoreError: There is no room.
    """
    loaded.study.check_recordable()
    portable = _portable(session, store, loaded, base)
    with write(session):
        return keep(session, Study.model_validate(portable), loaded, assessment)


def keep(session: Session, study: Study, loaded: LoadedStudy, assessment: Assessment) -> tuple[models.Assessment, bool]:
    """Insert an assessment with its sources and parameter sets; part of the caller's transaction.

    Args:
        session: In a writing transaction.
        study: The study with histories by id.
        loaded: The same study as assessed.
        assessment: Its result.

    Returns:
        The row, and whether it is new; a row that is there already is never changed.
    """
    held = session.get(models.Assessment, assessment.id)
    if held is not None:
        return held, False
    _keep_sets(session, loaded, Path())
    row = studies.keep(session, study)
    now = utc_now()
    document = ResultDocument.of(assessment)
    stored, new = insert_once(
        session,
        models.Assessment(
            id=assessment.id,
            study_id=row.id,
            title=assessment.title,
            program_version=assessment.program_version,
            currency=assessment.currency,
            service_years=float(assessment.service_years),
            strategies=len(assessment.strategies),
            created_at=now,
            document=document.model_dump(mode="json"),
        ),
    )
    if new:
        sets = document.study.parameter_sets
        for one in source_rows(document):
            used = sets.battery if one.source == "battery" else sets.ultracapacitor
            session.add(_source_row(one, "" if used is None else used.sha256, now))
        session.flush()
    return stored, new


def _source_row(one: SourceRow, cell_sha256: str, now: datetime) -> models.AssessmentSource:
    life, cost = one.life_years, one.strategy_net_present_cost_currency
    return models.AssessmentSource(
        **{COLUMN_OF.get(name, name): value for name, value in one},
        cell_sha256=cell_sha256,
        strategy_folded=one.strategy.casefold(),
        life_key=models.LIFE_BEYOND_SEARCH_YEARS if life is None else life,
        cost_key=models.COST_WITHOUT_RESULT if cost is None else cost,
        created_at=now,
    )


def _portable(session: Session, store: HistoryStore, loaded: LoadedStudy, base: Path) -> dict[str, Any]:
    """The study with ids and hashes in place of paths, after storing what they stand for."""
    kept = {spec: keep_history(session, store, spec, base, _cells_of(loaded, spec)) for spec in loaded.histories}
    with write(session):
        renamed = _keep_sets(session, loaded, base)
    data = loaded.study.model_dump(mode="json", exclude_unset=True, exclude_none=True)
    for strategy, given in zip(data["strategy"], loaded.study.strategy, strict=True):
        for key, spec in given.inputs().items():
            strategy[key] = kept[spec]
    for sections in (data, *(strategy.get("design", {}) for strategy in data["strategy"])):
        for kind in ("battery", "ultracapacitor"):
            if sections.get(kind, {}).get("cell") in renamed:
                sections[kind]["cell"] = renamed[sections[kind]["cell"]]
    climate = data["service"].get("climate")
    if climate in renamed:
        data["service"]["climate"] = renamed[climate]
    return data


def _cells_of(loaded: LoadedStudy, spec: HistoryInput) -> tuple[int, int]:
    """Cells in series and parallel that a history of one cell stands for."""
    reader = next(one for one in loaded.study.strategy if spec in one.inputs().values())
    study = loaded.seen_by(reader.name).study
    pack = study.ultracapacitor if reader.ultracapacitor == spec and study.ultracapacitor else study.battery
    return pack.series, pack.parallel


def _keep_sets(session: Session, loaded: LoadedStudy, base: Path) -> Mapping[str, str]:
    """Store the parameter sets and climate that were used; answers the hash of each that is not a shipped one."""
    renamed: dict[str, str] = {}
    for cell in loaded.cells:
        if session.get(models.ParameterSet, cell.sha256) is not None:
            continue
        text = _text_of(cell, base)
        row = models.ParameterSet(sha256=cell.sha256, name=cell.id, kind=cell.kind, title=cell.title, document=text)
        insert_once(session, row)
    for cell in loaded.cells:
        if cell.id not in shipped_ids(FOLDER_OF[cell.kind]):
            renamed[cell.id] = cell.sha256
    climate = loaded.study.service.climate
    if climate is not None:
        text, key = climate_text(loaded.ambient_K), climate_sha256(loaded.ambient_K)
        insert_once(
            session, models.ParameterSet(sha256=key, name=climate, kind="climate", title=climate, document=text)
        )
        if climate not in shipped_ids("climates"):
            renamed[climate] = key
    return renamed


def _text_of(cell: Cell, base: Path) -> str:
    """The text of the parameter set that was used, exactly."""
    content = find_file(cell.id, FOLDER_OF[cell.kind], base).read_bytes()
    if hashlib.sha256(content).hexdigest() != cell.sha256:
        raise InputError(f"{cell.id}: the file was changed while the study was assessed. Assess it again.")
    return content.decode("utf-8")
