"""The detail document: what pictures and the report need beside the result, as plain data to be stored with it.

The result document answers the question; this one shows how the answer came about: health by month, maps of cycles
and of time, parameter sets with their sources, and the study as given. Pictures are drawn from these two documents
alone, so a stored assessment shows the same numbers as a fresh one.
"""

from collections.abc import Mapping
from typing import Any

import numpy as np

from lifetime.checks import FloatArray
from lifetime.constants import ZERO_CELSIUS_K
from lifetime.packs.cell import Cell
from lifetime.packs.pack import Pack
from lifetime.report.day_course import day_course
from lifetime.results.maps import cycle_map, time_map
from lifetime.results.records import Assessment, Course, SourceResult
from lifetime.study.load import LoadedStudy
from lifetime.study.sections import Battery, Ultracapacitor

SCHEMA = 1
"""Raised whenever a key changes its meaning or goes away."""

MOST_POINTS = 200
_DIGITS = 7


def detail(assessment: Assessment) -> dict[str, Any]:
    """Everything that pictures and report show beside the result document, as plain JSON data.

    Args:
        assessment: What ``assess`` returned.
    """
    loaded = assessment.loaded
    study = loaded.study
    return {
        "schema": SCHEMA,
        "id": assessment.id,
        "study": study.model_dump(mode="json", exclude_unset=True, exclude_none=True),
        "service": {
            "years": study.service.years,
            "working_days_per_year": study.service.working_days_per_year,
            "histories_cover": study.service.histories_cover,
            "distance_km_per_day": study.service.distance_km_per_day,
            "climate": study.service.climate,
            "ambient_C": _plain(loaded.ambient_K - ZERO_CELSIUS_K),
            "drive_repeats": study.service.day.drive_repeats,
            "charge_c_rate": study.service.day.charge_c_rate,
            "charge_to_soc": study.service.day.charge_to_soc,
        },
        "cost": study.cost.model_dump(mode="json"),
        "counting": study.counting.model_dump(mode="json"),
        "limits": {
            "battery": {
                "capacity_fraction": study.end_of_life.battery_capacity,
                "resistance_ratio": study.end_of_life.battery_resistance,
            },
            "ultracapacitor": {
                "capacity_fraction": study.end_of_life.ultracapacitor_capacitance,
                "resistance_ratio": study.end_of_life.ultracapacitor_esr,
            },
        },
        "sets": _sets(assessment, loaded),
        "histories": _histories(loaded),
        "strategies": _strategies(assessment),
    }


def _strategies(assessment: Assessment) -> list[dict[str, Any]]:
    ambient_K = assessment.loaded.ambient_K
    return [
        {
            "name": one.name,
            "battery": _source(one.battery, ambient_K),
            "ultracapacitor": None if one.ultracapacitor is None else _source(one.ultracapacitor, ambient_K),
            "day": None if one.day is None else day_course(one.day),
        }
        for one in assessment.strategies
    ]


def _source(result: SourceResult, ambient_K: FloatArray) -> dict[str, Any]:
    return {
        "course": _course(result.course),
        "cycle_map": cycle_map(result),
        "time_map": time_map(result, ambient_K),
        "open_charge_Ah": result.open_charge_Ah,
    }


def _course(course: Course) -> dict[str, list[float]]:
    """Health by month, evenly thinned; the first and the last month stay."""
    months = course.years.size
    step = max(1, -(-(months - 1) // (MOST_POINTS - 1)))
    keep = np.arange(0, months, step)
    if months and keep[-1] != months - 1:
        keep = np.append(keep, months - 1)
    return {
        name: _plain(getattr(course, name)[keep])
        for name in (
            "years",
            "capacity_fraction",
            "resistance_ratio",
            "calendar_loss_fraction",
            "cyclic_loss_fraction",
        )
    }


def _sets(assessment: Assessment, loaded: LoadedStudy) -> dict[str, Any]:
    study = loaded.study
    sets: dict[str, Any] = {"battery": None, "ultracapacitor": None}
    firsts: Mapping[str, SourceResult | None] = {
        "battery": next((one.battery for one in assessment.strategies), None),
        "ultracapacitor": next((one.ultracapacitor for one in assessment.strategies if one.ultracapacitor), None),
    }
    sections: Mapping[str, Battery | Ultracapacitor | None] = {
        "battery": study.battery,
        "ultracapacitor": study.ultracapacitor,
    }
    cells = {"battery": loaded.battery, "ultracapacitor": loaded.ultracapacitor}
    for kind, first in firsts.items():
        cell, section = cells[kind], sections[kind]
        if first is not None and cell is not None and section is not None:
            sets[kind] = _set(first, cell, section)
    return sets


def _set(result: SourceResult, cell: Cell, section: Battery | Ultracapacitor) -> dict[str, Any]:
    pack = Pack(cell, section.series, section.parallel)
    return {
        "cell": cell.id,
        "title": cell.title,
        "chemistry": cell.chemistry,
        "sha256": result.cell_sha256,
        "grade": result.grade,
        "sees": list(result.sees),
        "blind_to": list(result.blind_to),
        "caveats": list(result.caveats),
        "references": list(result.references),
        "provenance": [
            {
                "key": entry.key,
                "value": list(entry.value) if isinstance(entry.value, tuple) else entry.value,
                "unit": entry.unit,
                "source": entry.source,
                "grade": entry.grade,
            }
            for entry in result.provenance
        ],
        "pack": {
            "series": section.series,
            "parallel": section.parallel,
            "capacity_Ah": pack.pack_capacity_Ah,
            "capacitance_F": pack.pack_capacitance_F,
            "resistance_ohm": pack.pack_resistance_ohm,
            "nominal_voltage_V": pack.pack_nominal_voltage_V,
            "energy_kWh": pack.pack_energy_Wh / 1000.0,
            "mass_kg": pack.pack_mass_kg,
        },
    }


def _histories(loaded: LoadedStudy) -> list[dict[str, Any]]:
    """Every history once, with what its reading came to."""
    return [
        {
            "name": history.label,
            "file": spec.file,
            "sha256": history.sha256,
            "columns": spec.model_dump(mode="json", exclude={"file"}, exclude_none=True),
            "driven_by": history.driven_by,
            "interpolation": history.interpolation,
            "has_temperature": history.has_temperature,
            "samples": history.samples,
            "duration_s": history.duration_s,
        }
        for spec, history in loaded.histories.items()
    ]


def _plain(values: Any) -> list[float]:
    return [float(f"{value:.{_DIGITS}g}") for value in values.tolist()]
