"""From a parameter set file to a :class:`~lifetime.packs.cell.Cell`."""

from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import get_args

from pydantic import BaseModel

from lifetime.ageing.assumed_growth import AssumedGrowth
from lifetime.ageing.registry import build_law
from lifetime.ageing.validity import Range, Validity
from lifetime.checks import as_floats
from lifetime.constants import SECONDS_PER_HOUR, ZERO_CELSIUS_K
from lifetime.errors import NumberError, ProfileError
from lifetime.packs.cell import Cell, OpenCircuitCurve, ProvenanceEntry
from lifetime.packs.locate import find_file
from lifetime.packs.profile import Choice, Grade, Kind, Profile, Quantity, ResistanceSection, ValiditySection
from lifetime.packs.read import read_profile
from lifetime.packs.resistance import SINGLE, Branch, ResistanceShape

_USUAL_TESTED_LOSS = 0.2
"""Where a set states no tested loss: cycle-life tests end at 80 % of the initial capacity (IEC 62660-1), and life
ratings of ultracapacitors at 80 % of the capacitance (common practice, no source)."""


def _entries(section: BaseModel | dict[str, Quantity] | dict[str, Choice], place: str) -> Iterator[ProvenanceEntry]:
    parts = section.items() if isinstance(section, dict) else iter(section)
    for key, part in parts:
        if isinstance(part, Quantity):
            yield ProvenanceEntry(f"{place}.{key}", part.value, part.unit, part.source, part.grade)
        elif isinstance(part, Choice):
            yield ProvenanceEntry(f"{place}.{key}", part.value, "", part.source, part.grade)


def _provenance(profile: Profile) -> tuple[ProvenanceEntry, ...]:
    entries = list(_entries(profile.cell, "cell"))
    cold = profile.cold_charging
    if cold is not None:
        entries.append(ProvenanceEntry("cold_charging", cold.value, "", cold.source, cold.grade))
    if profile.ocv is not None:
        entries += _entries(profile.ocv, "ocv")
    if profile.resistance is not None:
        entries += _entries(profile.resistance, "resistance")
    if profile.limits is not None:
        for way, section in (("discharge", profile.limits.discharge), ("charge", profile.limits.charge)):
            entries += [] if section is None else _entries(section, f"limits.{way}")
    entries += _entries(profile.law.coefficients, "law.coefficients")
    entries += _entries(profile.law.choices, "law.choices")
    entries += _entries(profile.validity, "validity")
    return tuple(entries)


def _weakest(entries: Sequence[ProvenanceEntry]) -> Grade:
    order: tuple[Grade, ...] = get_args(Grade)
    return order[max(order.index(entry.grade) for entry in entries)]


def _interval(quantity: Quantity | None, offset: float = 0.0) -> Range | None:
    return None if quantity is None else (quantity.values[0] + offset, quantity.values[1] + offset)


def _validity(section: ValiditySection) -> Validity:
    return Validity(
        temperature_K=_interval(section.temperature_C, ZERO_CELSIUS_K),
        cycle_temperature_K=_interval(section.cycle_temperature_C, ZERO_CELSIUS_K),
        soc=_interval(section.soc),
        voltage_V=_interval(section.voltage_V),
        depth=_interval(section.depth),
        c_rate=_interval(section.c_rate),
        charge_c_rate=_interval(section.charge_c_rate),
    )


def _number(quantity: Quantity | None) -> float | None:
    return None if quantity is None else quantity.number


def _curve(profile: Profile) -> OpenCircuitCurve:
    if profile.ocv is None:
        rated = profile.cell.maximum_voltage_V.number
        return OpenCircuitCurve(
            as_floats((0.0, 1.0), "soc"), as_floats((0.0, rated), "voltage"), "linear in charge, V = Q/C"
        )
    return OpenCircuitCurve(
        as_floats(profile.ocv.soc.values, "ocv.soc"),
        as_floats(profile.ocv.voltage_V.values, "ocv.voltage_V"),
        profile.ocv.label,
    )


def _resistance_shape(section: ResistanceSection | None) -> ResistanceShape:
    """The set's shape; one resistance for everything where it states none."""
    if section is None:
        return SINGLE
    energies = _numbers(section.activation_energy) or (0.0,)
    branches = zip(_numbers(section.branches), _numbers(section.time_constants_s), strict=True)
    return ResistanceShape(
        ohmic_fraction=section.ohmic.number,
        branches=tuple(Branch(fraction, tau) for fraction, tau in branches),
        activation_J_per_mol=1000.0 * energies[0],
        second_fraction=0.0 if section.second_term is None else section.second_term.number,
        second_activation_J_per_mol=1000.0 * energies[-1],
        soc=_numbers(section.soc) or SINGLE.soc,
        soc_factor=_numbers(section.soc_factor) or SINGLE.soc_factor,
    )


def _caveats(profile: Profile) -> tuple[str, ...]:
    """The standing sentences of a set, the one on cold charging last."""
    cold = profile.cold_charging
    return profile.caveats if cold is None else (*profile.caveats, f"Charging in the cold ({cold.grade}): {cold.value}")


def _numbers(quantity: Quantity | None) -> tuple[float, ...]:
    return () if quantity is None else quantity.values


def cell_from_profile(profile: Profile, cell_id: str, sha256: str) -> Cell:
    """Make a cell from a checked parameter set.

    Args:
        profile: The checked set.
        cell_id: Id or path it goes by.
        sha256: Hash of the file's bytes.

    Raises:
        ProfileError: The law's numbers do not fit.
    """
    section, limits, provenance = profile.cell, profile.limits, _provenance(profile)
    tested = _number(profile.validity.tested_loss)
    capacitance = _number(section.capacitance_F)
    capacity = _number(section.capacity_Ah)
    if capacity is None:  # the schema has made sure that an ultracapacitor states its capacitance
        capacity = (capacitance or 0.0) * section.maximum_voltage_V.number / SECONDS_PER_HOUR
    return Cell(
        id=cell_id,
        kind=profile.kind,
        title=profile.title,
        chemistry=profile.chemistry,
        rated_capacity_Ah=capacity,
        capacitance_F=capacitance,
        resistance_ohm=section.resistance_ohm.number,
        nominal_voltage_V=section.nominal_voltage_V.number,
        minimum_voltage_V=section.minimum_voltage_V.number,
        maximum_voltage_V=section.maximum_voltage_V.number,
        maximum_current_A=_number(section.maximum_current_A),
        continuous_current_A=_number(section.continuous_current_A),
        mass_kg=_number(section.mass_kg),
        thermal_resistance_K_per_W=_number(section.thermal_resistance_K_per_W),
        heat_capacity_J_per_K=_number(section.heat_capacity_J_per_K),
        open_circuit=_curve(profile),
        resistance_shape=_resistance_shape(profile.resistance),
        discharge_limits=None if limits is None or limits.discharge is None else limits.discharge.table(),
        charge_limits=None if limits is None or limits.charge is None else limits.charge.table(),
        law=build_law(profile.law.name, profile.law.numbers(), profile.law.words(), _validity(profile.validity)),
        tested_loss=_USUAL_TESTED_LOSS if tested is None else tested,
        tested_loss_is_stated=tested is not None,
        provenance=provenance,
        lowest_grade=_weakest(provenance),
        caveats=_caveats(profile),
        references=profile.references,
        sha256=sha256,
        absolute_maximum_voltage_V=_number(section.absolute_maximum_voltage_V),
    )


def load_cell(name_or_path: str, kind: Kind, base_dir: Path) -> Cell:
    """Load a shipped parameter set or the user's own.

    Args:
        name_or_path: Id of a shipped set, or a path ending in ``.toml``.
        kind: What the study expects there.
        base_dir: Folder that relative paths start from.

    Raises:
        ProfileError: No such set, faults in the file, or the wrong kind of source.
    """
    path = find_file(name_or_path, "batteries" if kind == "battery" else "ultracapacitors", base_dir)
    profile, sha256 = read_profile(path, name_or_path)
    if profile.kind != kind:
        raise ProfileError(f'{name_or_path}: kind must be "{kind}" here, got "{profile.kind}".')
    return cell_from_profile(profile, name_or_path, sha256)


def with_capacity(cell: Cell, capacity_Ah: float) -> Cell:
    """The same kind of cell in another size: the ageing laws count full cycles, so they hold for any capacity.

    Args:
        cell: The cell as loaded; a battery cell.
        capacity_Ah: Rated capacity of the user's cell [Ah], > 0.

    Returns:
        A cell of that capacity; resistance falls and mass grows in proportion, as for cells side by side.

    Raises:
        ProfileError: The cell is an ultracapacitor, or the capacity is not a positive number.
    """
    if cell.kind == "ultracapacitor":
        raise ProfileError(f"{cell.id}: an ultracapacitor is sized by its capacitance; copy the file and change it.")
    if not 0.0 < capacity_Ah < float("inf"):
        raise ProfileError(f"{cell.id}: the capacity must be a positive number of Ah, got {capacity_Ah:g}.")
    scale = capacity_Ah / cell.rated_capacity_Ah
    source = f"given in the study; resistance and mass scaled from {cell.rated_capacity_Ah:g} Ah"
    return replace(
        cell,
        rated_capacity_Ah=capacity_Ah,
        resistance_ohm=cell.resistance_ohm / scale,
        mass_kg=None if cell.mass_kg is None else cell.mass_kg * scale,
        maximum_current_A=None if cell.maximum_current_A is None else cell.maximum_current_A * scale,
        continuous_current_A=None if cell.continuous_current_A is None else cell.continuous_current_A * scale,
        provenance=(
            *cell.provenance,
            ProvenanceEntry("study.cell_capacity_Ah", capacity_Ah, "Ah", source, "primary source"),
        ),
    )


def with_resistance_growth(cell: Cell, per_calendar_loss: float, per_cyclic_loss: float) -> Cell:
    """Give a battery cell whose ageing model predicts no resistance growth one in proportion to its loss of capacity.

    Args:
        cell: The cell as loaded.
        per_calendar_loss: Growth of the resistance over its initial value, over the calendar loss [1], >= 0.
        per_cyclic_loss: The same over the cyclic loss [1], >= 0.

    Returns:
        The same cell with the growth, and the provenance saying so; the cell itself where its model has a resistance
        or both ratios are 0.
    """
    if cell.law.has_resistance or per_calendar_loss == per_cyclic_loss == 0.0:
        return cell
    source = "convention, 0.5 to 5 in use: this ageing model predicts no resistance growth"
    given = (("calendar", per_calendar_loss), ("cyclic", per_cyclic_loss))
    entries = (
        ProvenanceEntry(f"study.resistance_per_{part}_loss", ratio, "1", source, "convention") for part, ratio in given
    )
    law = AssumedGrowth(cell.law, per_calendar_loss, per_cyclic_loss)
    return replace(cell, law=law, provenance=(*cell.provenance, *entries))


def with_open_circuit(cell: Cell, soc: Sequence[float], volts: Sequence[float], label: str) -> Cell:
    """Replace a battery cell's open-circuit curve by the user's own.

    Args:
        cell: The cell as loaded.
        soc: States of charge [0..1], rising.
        volts: Open-circuit voltages there [V], not falling.
        label: What the curve is, for reports.

    Returns:
        The same cell with the new curve, and the provenance saying so.

    Raises:
        ProfileError: The points are not a curve, or the cell is an ultracapacitor, whose voltage follows its charge.
    """
    if cell.kind == "ultracapacitor":
        raise ProfileError(f"{cell.id}: an ultracapacitor's voltage is linear in its charge; leave the curve out.")
    try:
        curve = OpenCircuitCurve(
            as_floats(soc, "states of charge of the curve [1]"), as_floats(volts, "voltages of the curve [V]"), label
        )
    except NumberError as error:
        raise ProfileError(f"{cell.id}: {error}") from None
    kept = tuple(entry for entry in cell.provenance if not entry.key.startswith("ocv."))
    # the user measured or read it; nobody else can vouch for it
    new = (
        ProvenanceEntry("ocv.soc", tuple(curve.soc.tolist()), "1", label, "primary source"),
        ProvenanceEntry("ocv.voltage_V", tuple(curve.voltage_V.tolist()), "V", label, "primary source"),
    )
    return replace(cell, open_circuit=curve, provenance=kept + new, lowest_grade=_weakest(kept + new))
