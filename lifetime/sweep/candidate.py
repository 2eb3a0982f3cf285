"""One candidate of a sweep: assessed, and summed up in one row a strategy."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, Final

from lifetime.assess.run import assess
from lifetime.checks import FloatArray
from lifetime.errors import PackwearError
from lifetime.history.model import History
from lifetime.history.spec import HistoryInput
from lifetime.packs.cell import Cell
from lifetime.packs.profile import Kind
from lifetime.results.records import StrategyResult
from lifetime.split.rules.user_function import BatteryFunction
from lifetime.study.load import Folder, LoadedStudy, resolve_study
from lifetime.sweep.axes import Axis, is_price, with_values

Row = dict[str, float | int | str | None]

_BANK_KINDS: Final = ("ultracapacitor purchase", "ultracapacitor replacement", "ultracapacitor residual")
_BATTERY_KINDS: Final = ("battery purchase", "battery replacement", "battery residual")


class OpenOnce:
    """A folder whose files are opened once, however many candidates ask for them.

    Args:
        base: The folder.
    """

    def __init__(self, base: Path) -> None:
        self._folder = Folder(base)
        self._held: dict[Any, Any] = {}

    def cell(self, name: str, kind: Kind) -> Cell:
        """The parameter set of that name."""
        found: Cell = self._once(("cell", name, kind), lambda: self._folder.cell(name, kind))
        return found

    def climate(self, given: str | float | Sequence[float]) -> FloatArray:
        """Monthly mean ambient temperature [K], shape (12,)."""
        key = given if isinstance(given, str | int | float) else tuple(given)
        found: FloatArray = self._once(("climate", key), lambda: self._folder.climate(given))
        return found

    def history(self, spec: HistoryInput, *, series: int, parallel: int) -> History:
        """The history; of one cell's quantities one for each size of pack."""
        size = (series, parallel) if spec.quantities_of == "cell" else ()
        found: History = self._once(
            ("history", spec, size), lambda: self._folder.history(spec, series=series, parallel=parallel)
        )
        return found

    def function(self, file: str, name: str) -> tuple[BatteryFunction, str]:
        """The user's split function."""
        found: tuple[BatteryFunction, str] = self._once(
            ("function", file, name), lambda: self._folder.function(file, name)
        )
        return found

    def _once(self, key: Any, opened: Any) -> Any:
        if key not in self._held:
            self._held[key] = opened()
        return self._held[key]


_SHELVES: dict[str, OpenOnce] = {}
"""Shelves of this process by folder: a worker opens every file once for all the batches it is given."""


def rows_of_batch(
    data: Mapping[str, Any], base: str, axes: Sequence[Axis], points: Sequence[tuple[int, tuple[float, ...]]]
) -> list[Row]:
    """Assess a batch of candidates; what a worker is given.

    Args:
        data: The study as plain data.
        base: Folder that relative paths in it are relative to.
        axes: What is varied.
        points: Number and values of each candidate.

    Returns:
        One row a strategy and candidate, in order. A candidate that is no study, or cannot be assessed, has one row
        that says why.
    """
    shelf = _SHELVES.setdefault(base, OpenOnce(Path(base)))
    rows: list[Row] = []
    held: dict[tuple[str, tuple[float, ...]], StrategyResult] = {}
    for number, values in points:
        start: Row = {"candidate": number}
        start |= {axis.name: value for axis, value in zip(axes, values, strict=True)}
        try:
            loaded = resolve_study(with_values(data, axes, values), f"candidate {number}", shelf)
            felt = {
                one.name: felt_values(at, axes, values, has_bank=one.has_bank)
                for at, one in enumerate(loaded.study.strategy)
            }
            known = {name: held[name, feels] for name, feels in felt.items() if (name, feels) in held}
            assessment = assess(loaded, in_detail=False, known=known)
        except PackwearError as error:
            rows.append({**start, "strategy": None, "problem": str(error)} | dict.fromkeys(FIGURES))
            continue
        held |= {(one.name, felt[one.name]): one for one in assessment.strategies}
        mass = mass_kg(loaded)
        rows += [{**start, **_row(one, assessment.strategies, mass)} for one in assessment.strategies]
    return rows


def felt_values(strategy: int, axes: Sequence[Axis], values: Sequence[float], *, has_bank: bool) -> tuple[float, ...]:
    """The values among a candidate's that one strategy's lives depend on; candidates that share them share the lives.

    Args:
        strategy: Its place in the study, from 0.
        axes: What is varied.
        values: One value each.
        has_bank: Whether it uses the bank.
    """

    def feels(path: tuple[str | int, ...]) -> bool:
        if path[0] == "strategy":
            return path[1] == strategy
        return not is_price(path) and (has_bank or path[0] != "ultracapacitor")

    return tuple(value for axis, value in zip(axes, values, strict=True) if feels(axis.path))


def mass_kg(loaded: LoadedStudy) -> tuple[float | None, float | None]:
    """Mass of the battery's and of the bank's cells [kg]; None where a parameter set does not say.

    Args:
        loaded: The study with everything it names.
    """
    pack, bank = loaded.study.battery, loaded.study.ultracapacitor
    battery = None if loaded.battery.mass_kg is None else loaded.battery.mass_kg * pack.series * pack.parallel
    if bank is None or loaded.ultracapacitor is None:
        return battery, 0.0
    cell = loaded.ultracapacitor.mass_kg
    return battery, None if cell is None else cell * bank.series * bank.parallel


FIGURES: Final = (
    "has_bank",
    "net_present",
    "battery_life_years",
    "bank_life_years",
    "battery_loss_at_service_end",
    "battery_rms_A",
    "battery_peak_A",
    "cells_kg",
    "break_even_bank_price",
    "break_even_battery_price",
)
"""Columns of a row that hold figures; prices are factors of those in the study."""


def _row(one: StrategyResult, strategies: Sequence[StrategyResult], mass: tuple[float | None, float | None]) -> Row:
    alone = next((other for other in strategies if other.ultracapacitor is None), None)
    left = one.battery.capacity_fraction_at_service_end
    bank = one.ultracapacitor
    battery_kg, bank_kg = mass[0], 0.0 if bank is None else mass[1]
    return {
        "strategy": one.name,
        "problem": None,
        "has_bank": float(one.ultracapacitor is not None),
        "net_present": None if one.life_cycle_cost is None else one.life_cycle_cost.net_present,
        "battery_life_years": one.battery.life_years,
        "bank_life_years": None if bank is None else bank.life_years,
        "battery_loss_at_service_end": None if left is None else 1.0 - left,
        "battery_rms_A": one.battery.rms_current_A,
        "battery_peak_A": one.battery.peak_current_A,
        "cells_kg": None if battery_kg is None or bank_kg is None else battery_kg + bank_kg,
        "break_even_bank_price": _break_even(one, alone, _BANK_KINDS),
        "break_even_battery_price": _break_even(one, alone, _BATTERY_KINDS),
    }


def _break_even(one: StrategyResult, alone: StrategyResult | None, kinds: tuple[str, ...]) -> float | None:
    """Factor on a source's price at which a strategy costs as much as the battery alone; None where there is none.

    Cost is linear in each price: purchases, replacements and residual values all scale with it.
    """
    if alone is None or one is alone or one.life_cycle_cost is None or alone.life_cycle_cost is None:
        return None
    cost, cost_alone = one.life_cycle_cost, alone.life_cycle_cost
    share = sum(cost.net_present_by_kind.get(kind, 0.0) for kind in kinds)
    others = sum(cost_alone.net_present_by_kind.get(kind, 0.0) for kind in kinds)
    if share == others:
        return None
    factor = 1.0 + (cost_alone.net_present - cost.net_present) / (share - others)
    return factor if factor > 0.0 else None
