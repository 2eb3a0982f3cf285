"""Putting an assessment on record, once, with everything that is needed to run it again."""

import hashlib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from sqlalchemy.orm import Session

from lifetime.assess.fingerprint import program_version
from lifetime.history.spec import HistoryInput
from lifetime.packs.locate import find_file, shipped_ids
from lifetime.report.detail import detail
from lifetime.report.document import document
from lifetime.results.records import Assessment, SourceResult, StrategyResult
from lifetime.study.load import LoadedStudy
from lifetime.study.schema import Study
from webapi import models
from webapi.database import write
from webapi.services import studies
from webapi.services.inserting import insert_once
from webapi.services.keeping import keep_history
from webapi.services.shelf import FOLDER_OF
from webapi.store import HistoryStore
from webapi.types import plain, utc_now


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
            document=plain(document(assessment)),
            detail=plain(detail(assessment)),
        ),
    )
    if new:
        for strategy in assessment.strategies:
            for source in (strategy.battery, strategy.ultracapacitor):
                if source is not None:
                    session.add(_source_row(assessment, strategy, source, now))
        session.flush()
    return stored, new


def _source_row(
    assessment: Assessment, strategy: StrategyResult, source: SourceResult, now: Any
) -> models.AssessmentSource:
    cost = strategy.cost
    life = 0.0 if source.life_state == "cannot_deliver" else source.life_years
    return models.AssessmentSource(
        assessment_id=assessment.id,
        title=assessment.title,
        strategy=strategy.name,
        strategy_folded=strategy.name.casefold(),
        rank=strategy.rank,
        kind=source.kind,
        cell=source.cell,
        cell_sha256=source.cell_sha256,
        grade=source.grade,
        life_years=source.life_years,
        life_state=source.life_state,
        life_key=models.LIFE_BEYOND_HORIZON_YEARS if life is None else life,
        end_of_life_by=source.end_of_life_by,
        capacity_fraction_at_service_end=source.capacity_fraction_at_service_end,
        resistance_ratio_at_service_end=source.resistance_ratio_at_service_end,
        calendar_share=source.calendar_share,
        cycle_share=source.cycle_share,
        equivalent_full_cycles_per_year=source.equivalent_full_cycles_per_year,
        throughput_Ah_per_year=source.throughput_Ah_per_year,
        rms_current_A=source.rms_current_A,
        peak_current_A=source.peak_current_A,
        heat_kWh_per_year=source.heat_kWh_per_year,
        replacements=None if cost is None else cost.replacements.get(source.kind),
        currency=assessment.currency,
        service_years=float(assessment.service_years),
        net_present=None if cost is None else cost.net_present,
        cost_key=models.COST_WITHOUT_RESULT if cost is None else cost.net_present,
        per_year=None if cost is None else cost.per_year,
        per_km=None if cost is None else cost.per_km,
        program_version=program_version(),
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
    for kind in ("battery", "ultracapacitor"):
        if kind in data and data[kind]["cell"] in renamed:
            data[kind]["cell"] = renamed[data[kind]["cell"]]
    climate = data["service"].get("climate")
    if climate in renamed:
        data["service"]["climate"] = renamed[climate]
    return data


def _cells_of(loaded: LoadedStudy, spec: HistoryInput) -> tuple[int, int]:
    """Cells in series and parallel that a history of one cell stands for."""
    bank = loaded.study.ultracapacitor
    of_bank = any(one.ultracapacitor == spec for one in loaded.study.strategy)
    pack = bank if of_bank and bank is not None else loaded.study.battery
    return pack.series, pack.parallel


def _keep_sets(session: Session, loaded: LoadedStudy, base: Path) -> Mapping[str, str]:
    """Store the parameter sets and climate that were used; answers the hash of each that is not a shipped one."""
    renamed: dict[str, str] = {}
    for cell in (loaded.battery, loaded.ultracapacitor):
        if cell is None or session.get(models.ParameterSet, cell.sha256) is not None:
            continue
        text = find_file(cell.id, "batteries" if cell.kind == "battery" else "ultracapacitors", base).read_text("utf-8")
        row = models.ParameterSet(sha256=cell.sha256, name=cell.id, kind=cell.kind, title=cell.title, document=text)
        insert_once(session, row)
    for cell in (loaded.battery, loaded.ultracapacitor):
        if cell is not None and cell.id not in shipped_ids(FOLDER_OF[cell.kind]):
            renamed[cell.id] = cell.sha256
    climate = loaded.study.service.climate
    if climate is not None:
        text = "\n".join(repr(value) for value in loaded.ambient_K.tolist())
        key = hashlib.sha256(text.encode()).hexdigest()
        insert_once(
            session, models.ParameterSet(sha256=key, name=climate, kind="climate", title=climate, document=text)
        )
        if climate not in shipped_ids("climates"):
            renamed[climate] = key
    return renamed
