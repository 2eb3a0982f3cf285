"""Findings about roles: several columns that fit equally well, currents without a sign, phases of a machine."""

from collections.abc import Iterator
from typing import Final

from lifetime.history.inspection.file_scan import FileScan
from lifetime.history.inspection.findings import Finding, FindingSeverity
from lifetime.history.inspection.words import place_of
from lifetime.history.mapping.role_ranking import DRIVES
from lifetime.history.mapping.study_entry import inline_table, winding_keys
from lifetime.history.mapping.three_phase import WindingSet

_NAMED: Final = 6


def role_findings(scan: FileScan) -> Iterator[Finding]:
    """Everything that makes a role doubtful.

    Args:
        scan: The pass over the file.
    """
    yield from _undecided(scan)
    yield from _unsigned(scan)
    yield from _alternating(scan)
    sets = scan.suggestions.sets
    for number, phases in enumerate(sets, start=1):
        yield _winding_set(scan, phases, f"winding set {number} of {len(sets)}" if len(sets) > 1 else "a winding set")


def _undecided(scan: FileScan) -> Iterator[Finding]:
    for role, columns in scan.suggestions.undecided.items():
        message = f"{len(columns)} columns fit {role} equally well: {_listed(columns)}."
        severity: FindingSeverity = "warning" if role in DRIVES else "note"
        yield Finding(severity, "file", message, len(columns), f"Name the {role} in the study yourself.")


def _unsigned(scan: FileScan) -> Iterator[Finding]:
    current = scan.by_role.get("current")
    if current is None or not scan.is_unsigned or scan.is_sign_by_mode:
        return
    message = "the current never changes sign while the voltage rises and falls under it: its direction is missing."
    remedy = (
        "Read as it is, all of it becomes discharge or all of it charge. Name the column that tells charge from "
        "discharge as mode, with charge_modes and discharge_modes, or export a signed current."
    )
    yield Finding("warning", place_of(current.column), message, None, remedy)


def _alternating(scan: FileScan) -> Iterator[Finding]:
    """A current that alternates: the one suggested, and those that are not suggested because they do."""
    current, alternation = scan.by_role.get("current"), scan.alternation.alternation()
    remedy = (
        "Name the direct current of the source; for a machine's phases name phase_currents with phase_voltages, whose "
        "power is the demand."
    )
    if current is not None and alternation is not None:
        message = (
            f"the current alternates around zero at {alternation.frequency_Hz:.3g} Hz: it is no direct current of a "
            "battery or an ultracapacitor."
        )
        yield Finding("warning", place_of(current.column), message, alternation.frequency_Hz, remedy)
    in_sets = {at for phases in scan.suggestions.sets for at in phases.currents}
    for one in scan.suggestions.candidates:
        if one.role == "current" and "alternates" in one.objection and one.position not in in_sets:
            yield Finding("warning", place_of(one.column), f"{one.objection}.", None, remedy)


def _winding_set(scan: FileScan, phases: WindingSet, what: str) -> Finding:
    columns = scan.reader.columns
    names = [columns[at] for at in phases.currents]
    message = (
        f"{_listed(names)} are the phase currents of {what}: they sum to zero and are 120 degrees apart. None of them "
        "is the direct current of a source."
    )
    keys = winding_keys(scan.reader.label, tuple(scan.by_role.values()), phases, columns)
    if keys is None:
        remedy = (
            "Give the time and the three phase voltages too, each against one common point and not between two phases; "
            "the products of current and voltage sum to the power."
        )
    else:
        remedy = f"Its power is the demand on the source that feeds it: {inline_table(keys)}"
    return Finding("warning", "file", message, None, remedy)


def _listed(names: tuple[str, ...] | list[str]) -> str:
    more = f" and {len(names) - _NAMED} more" if len(names) > _NAMED else ""
    return ", ".join(f'"{name}"' for name in names[:_NAMED]) + more
