"""Sweeps on record: what was varied, and one row a candidate and strategy."""

from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from sqlalchemy import func, insert, select
from sqlalchemy.orm import Session

from lifetime.sweep.plan import Plan
from lifetime.version import program_version
from webapi import models
from webapi.database import write
from webapi.services.insert_once import insert_once
from webapi.services.keys import is_key
from webapi.types import plain

if TYPE_CHECKING:
    from lifetime.sweep.summary import Summary

_CHUNK: Final = 1_000
_COLUMNS: Final = {
    "candidate": "candidate",
    "strategy": "strategy",
    "net_present_cost": "net_present",
    "battery_life_years": "battery_life_years",
}
"""Figures of a row with a column of their own in the table, and what that is called; the others are kept as JSON."""
_FORMER: Final = {
    "has_bank": "has_ultracapacitor",
    "bank_life_years": "ultracapacitor_life_years",
    "battery_loss_at_service_end": "battery_capacity_loss_at_service_end",
}
"""What figures were called in rows that hold break-even factors in place of prices."""


def record(session: Session, plan: Plan, path: Path) -> tuple[models.Sweep, bool]:
    """Put a finished sweep on record, whole or not at all; the same plan again is stored once.

    Args:
        session: Where.
        plan: What was run.
        path: The Parquet file with its rows.

    Returns:
        The row, and whether it is new.
    """
    from pyarrow import parquet  # noqa: PLC0415 - slow import

    row = models.Sweep(
        id=plan.key,
        title=str(plan.data.get("title", plan.name)),
        document=plain(dict(plan.data), "study"),
        axes=[{"key": axis.name, "values": list(axis.values), "scale": axis.scale} for axis in plan.axes],
        candidates=len(plan.points),
        program_version=program_version(),
    )
    with write(session):
        stored, new = insert_once(session, row)
        if new:
            place = 0
            for batch in parquet.ParquetFile(path).iter_batches(batch_size=_CHUNK):
                rows = [_row(plan.key, place + at, one) for at, one in enumerate(batch.to_pylist())]
                session.execute(insert(models.SweepRow), rows)
                place += len(rows)
    return stored, new


def listed(session: Session, limit: int = 20) -> list[tuple[models.Sweep, float | None]]:
    """The newest sweeps, each with its least cost.

    Args:
        session: Where.
        limit: How many.
    """
    least = (
        select(func.min(models.SweepRow.net_present))
        .where(models.SweepRow.sweep_id == models.Sweep.id)
        .scalar_subquery()
    )
    newest = select(models.Sweep, least).order_by(models.Sweep.created_at.desc(), models.Sweep.id.desc()).limit(limit)
    return [(sweep, cost) for sweep, cost in session.execute(newest)]


def summary(session: Session, key: str) -> "tuple[models.Sweep, Summary] | None":
    """What a sweep on record shows, or None where no sweep has that id.

    Args:
        session: Where.
        key: Its id.
    """
    sweep = session.get(models.Sweep, key) if is_key(key) else None
    if sweep is None:
        return None
    import pandas as pd  # noqa: PLC0415 - slow imports, and most ids are no sweep's

    from lifetime.sweep.candidate import FIGURES  # noqa: PLC0415
    from lifetime.sweep.summary import summarise_rows  # noqa: PLC0415

    names = [axis["key"] for axis in sweep.axes]
    rows = session.scalars(
        select(models.SweepRow).where(models.SweepRow.sweep_id == key).order_by(models.SweepRow.place)
    )
    given = [_figures(row) for row in rows]
    frame = pd.DataFrame(given, columns=["candidate", *names, "strategy", "problem", *FIGURES])
    numbers = [*names, *FIGURES]
    return sweep, summarise_rows(frame.astype(dict.fromkeys(numbers, "float64")), names)


def _row(key: str, place: int, one: dict[str, Any]) -> dict[str, Any]:
    return {
        "sweep_id": key,
        "place": place,
        **{column: one[name] for name, column in _COLUMNS.items()},
        "strategy": one["strategy"] or "",
        "figures": {name: value for name, value in one.items() if name not in _COLUMNS and value is not None},
    }


def _figures(row: models.SweepRow) -> dict[str, Any]:
    """A stored row by today's names. Former rows have factors on a price in place of prices; they are left out."""
    kept = row.figures
    if "has_bank" in kept:
        kept = {_FORMER.get(name, name): value for name, value in kept.items() if not name.startswith("break_even_")}
    return {name: getattr(row, column) for name, column in _COLUMNS.items()} | kept
