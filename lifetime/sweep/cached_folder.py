"""A study's folder whose files are opened once for all the candidates of a sweep."""

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from lifetime.checks import FloatArray
from lifetime.history.model import History
from lifetime.history.spec import HistoryInput
from lifetime.packs.cell import Cell
from lifetime.packs.profile import Kind
from lifetime.split.rule import BatteryFunction
from lifetime.study.load import Folder


class CachedFolder:
    """A folder whose files are opened once, however many candidates ask for them.

    Args:
        base: The folder.
    """

    def __init__(self, base: Path) -> None:
        self._folder = Folder(base)
        self._opened: dict[Any, Any] = {}

    def cell(self, name: str, kind: Kind) -> Cell:
        """The parameter set of that name."""
        cell: Cell = self._once(("cell", name, kind), lambda: self._folder.cell(name, kind))
        return cell

    def climate(self, given: str | float | Sequence[float]) -> FloatArray:
        """Ambient temperature [K] by month, shape (12,), or by hour, shape (8760,)."""
        key = given if isinstance(given, str | int | float) else tuple(given)
        ambient_K: FloatArray = self._once(("climate", key), lambda: self._folder.climate(given))
        return ambient_K

    def history(self, spec: HistoryInput, *, series: int, parallel: int) -> History:
        """The history; of one cell's quantities one for each size of pack."""
        size = (series, parallel) if spec.quantities_of == "cell" else ()
        history: History = self._once(
            ("history", spec, size), lambda: self._folder.history(spec, series=series, parallel=parallel)
        )
        return history

    def function(self, file: str, name: str) -> tuple[BatteryFunction, str]:
        """The user's split function."""
        function: tuple[BatteryFunction, str] = self._once(
            ("function", file, name), lambda: self._folder.function(file, name)
        )
        return function

    def _once(self, key: Any, open_it: Callable[[], Any]) -> Any:
        if key not in self._opened:
            self._opened[key] = open_it()
        return self._opened[key]
