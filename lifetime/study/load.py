"""Reading a study: every fault at once, each with its place, what was expected and what to do."""

from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Protocol, TypeVar

from pydantic import BaseModel, ValidationError

from lifetime.checks import FloatArray
from lifetime.errors import Fault, HistoryError, InputError, StudyError
from lifetime.history.model import History
from lifetime.history.open import open_history
from lifetime.history.spec import HistoryInput
from lifetime.packs.cell import Cell
from lifetime.packs.climate import load_climate
from lifetime.packs.load import load_cell, with_capacity, with_open_circuit
from lifetime.packs.profile import Kind
from lifetime.split.rule import BatteryFunction, FunctionName, LoadedFunctions, Rule
from lifetime.split.rules import read_rule
from lifetime.study.designs import at_strategy, with_design
from lifetime.study.duty import Service
from lifetime.study.faults import schema_faults, with_question_marks
from lifetime.study.functions import load_function
from lifetime.study.schema import Study
from lifetime.study.sections import Battery, OpenCircuit, Ultracapacitor
from lifetime.toml_text import TomlError, read_toml_text

Model = TypeVar("Model", bound=BaseModel)

_BIGGEST_STUDY_BYTES = 4_000_000
_SAME_LENGTH = 0.01
"""Largest relative difference between the lengths of one strategy's histories; common practice, no source."""


@dataclass(frozen=True, slots=True, eq=False)
class LoadedStudy:
    """A study with everything it names, opened and checked.

    Args:
        study: The study as given.
        battery: The battery's cell.
        ultracapacitor: The bank's cell, or None.
        ambient_K: Ambient temperature [K] by month, shape (12,), or by hour, shape (8760,).
        histories: Every history by its input, opened once.
        functions: The user's split functions by file and name, each with the hash of its file.
        variants: By name of each strategy with a design of its own the study as it sees it.
    """

    study: Study
    battery: Cell
    ultracapacitor: Cell | None
    ambient_K: FloatArray
    histories: Mapping[HistoryInput, History]
    functions: LoadedFunctions = field(default_factory=dict)
    variants: Mapping[str, "LoadedStudy"] = field(default_factory=dict)

    def seen_by(self, strategy: str) -> "LoadedStudy":
        """The study as a strategy sees it: with its own design where it has one.

        Args:
            strategy: Its name.
        """
        return self.variants.get(strategy, self)

    @property
    def cells(self) -> tuple[Cell, ...]:
        """Every parameter set that is used, each once."""
        used = [one for seen in (self, *self.variants.values()) for one in (seen.battery, seen.ultracapacitor)]
        return tuple({(one.kind, one.sha256): one for one in used if one is not None}.values())


class Shelf(Protocol):
    """Where the things a study names are found: beside the study file, or in a service's store."""

    def cell(self, name: str, kind: Kind) -> Cell:
        """The parameter set of that name; raises ``ProfileError``."""

    def climate(self, given: str | float | Sequence[float]) -> FloatArray:
        """Ambient temperature [K] by month, shape (12,), or by hour, shape (8760,); raises ``InputError``."""

    def history(self, spec: HistoryInput, *, series: int, parallel: int) -> History:
        """The history, checked, for a pack of so many cells; raises ``HistoryError``."""

    def function(self, file: str, name: str) -> tuple[BatteryFunction, str]:
        """The user's split function and the hash of its file; raises ``InputError``."""


@dataclass(frozen=True, slots=True)
class Folder:
    """Things named by a path relative to a folder, besides the shipped ones.

    Args:
        base: The folder, usually the study file's.
    """

    base: Path

    def cell(self, name: str, kind: Kind) -> Cell:
        """A shipped parameter set, or one of the user's own files."""
        return load_cell(name, kind, self.base)

    def climate(self, given: str | float | Sequence[float]) -> FloatArray:
        """A shipped climate, one of the user's own files, or the values as given."""
        return load_climate(given, self.base)

    def history(self, spec: HistoryInput, *, series: int, parallel: int) -> History:
        """One of the user's own files."""
        return open_history(spec, self.base, series=series, parallel=parallel)

    def function(self, file: str, name: str) -> tuple[BatteryFunction, str]:
        """A function from one of the user's own Python files; the file is run."""
        return load_function(self.base / file, name)


def load_study(path: Path) -> LoadedStudy:
    """Read a study file; relative paths in it are relative to its folder.

    Args:
        path: The TOML file.

    Raises:
        StudyError: Anything is wrong with it or with a file it names; all faults are reported at once.
    """
    name = str(path)
    return resolve_study(read_toml(path), name, Folder(path.parent))


def read_toml(path: Path) -> dict[str, Any]:
    """Read a study file as plain data.

    Raises:
        StudyError: The file is missing, too large, not text, or not TOML.
    """
    name = str(path)
    try:
        if path.stat().st_size > _BIGGEST_STUDY_BYTES:
            raise StudyError(name, [Fault("file", "is larger than 4 MB; a study is a small text. Is it a history?")])
        return read_toml_text(path.read_bytes().decode("utf-8"))
    except FileNotFoundError:
        raise StudyError(name, [Fault("file", "does not exist. Give the path of a study file (TOML).")]) from None
    except OSError as error:
        raise StudyError(name, [Fault("file", f"cannot be read ({error.strerror}).")]) from None
    except UnicodeDecodeError:
        raise StudyError(name, [Fault("file", "is not UTF-8 text. A study is a TOML text file.")]) from None
    except TomlError as error:
        raise StudyError(name, [Fault("file", f"is not valid TOML: {error}.")]) from None


def resolve_study(data: Mapping[str, Any], name: str, shelf: Shelf) -> LoadedStudy:
    """Check a study given as plain data and open everything it names.

    Args:
        data: The study's keys and values.
        name: How messages call it.
        shelf: Where the things it names are found.

    Raises:
        StudyError: With every fault found: in the schema, and in every section that could be read, in what it names.
    """
    faults: list[Fault] = []
    study: Study | None = None
    try:
        study = Study.model_validate(data)
    except ValidationError as error:
        faults.extend(schema_faults(error))
    shelf = shelf if isinstance(shelf, _OpenedOnce) else _OpenedOnce(shelf)
    opened = _Opened(shelf, faults)
    opened.open_sections(data)
    faults = with_question_marks(data, faults)
    if study is None or faults or opened.battery is None or opened.ambient_K is None:
        raise StudyError(name, faults)
    _check_voltages(study, opened, faults)
    _check_lengths(study, opened, faults)
    variants = _variants(data, study, name, shelf, faults)
    if faults:
        raise StudyError(name, faults)
    return LoadedStudy(
        study, opened.battery, opened.ultracapacitor, opened.ambient_K, opened.histories, opened.functions, variants
    )


def _variants(
    data: Mapping[str, Any], study: Study, name: str, shelf: Shelf, faults: list[Fault]
) -> dict[str, LoadedStudy]:
    """The study as each strategy with a design of its own sees it; what is wrong there is added to the faults."""
    found = {}
    for place, strategy in enumerate(study.strategy):
        if strategy.design is None:
            continue
        try:
            found[strategy.name] = resolve_study(with_design(data, place), name, shelf)
        except StudyError as error:
            faults += [at_strategy(fault, place) for fault in error.faults]
    return found


class _OpenedOnce:
    """A shelf from which a study and the designs of its strategies take every history once."""

    def __init__(self, shelf: Shelf) -> None:
        self._shelf = shelf
        self._histories: dict[tuple[HistoryInput, int, int], History] = {}
        self.cell = shelf.cell
        self.climate = shelf.climate
        self.function = shelf.function

    def history(self, spec: HistoryInput, *, series: int, parallel: int) -> History:
        # Only a history of one cell depends on how many there are.
        key = (spec, series, parallel) if spec.quantities_of == "cell" else (spec, 1, 1)
        if key not in self._histories:
            self._histories[key] = self._shelf.history(spec, series=series, parallel=parallel)
        return self._histories[key]


class _Opened:
    """Opens what each readable section names, and collects the faults on the way."""

    def __init__(self, shelf: Shelf, faults: list[Fault]) -> None:
        self._shelf = shelf
        self._faults = faults
        self._refused: set[HistoryInput] = set()
        self.battery: Cell | None = None
        self.ultracapacitor: Cell | None = None
        self.ambient_K: FloatArray | None = None
        self.histories: dict[HistoryInput, History] = {}
        self.functions: dict[FunctionName, tuple[BatteryFunction, str]] = {}

    def open_sections(self, data: Mapping[str, Any]) -> None:
        battery = _valid(Battery, data.get("battery"))
        if battery is not None:
            self.battery = self._cell(battery.cell, "battery", battery.open_circuit)
            if self.battery is not None and battery.cell_capacity_Ah is not None:
                self.battery = with_capacity(self.battery, battery.cell_capacity_Ah)
        bank = _valid(Ultracapacitor, data.get("ultracapacitor"))
        if bank is not None:
            self.ultracapacitor = self._cell(bank.cell, "ultracapacitor", None)
        service = _valid(Service, data.get("service"))
        if service is not None:
            self._climate(service)
        for place, spec in _inputs(data):
            # A file that several strategies name is looked at, and complained of, once.
            if spec not in self.histories and spec not in self._refused:
                self._history(place, spec, bank if place.endswith("ultracapacitor") else battery)
        for place, rule in _rules(data):
            if rule.function_name is not None:
                self._function(place, rule.function_name)

    def _cell(self, name: str, kind: Kind, curve: OpenCircuit | None) -> Cell | None:
        try:
            cell = self._shelf.cell(name, kind)
            return cell if curve is None else with_open_circuit(cell, curve.soc, curve.voltage_V, curve.label)
        except InputError as error:
            self._faults.append(Fault(f"{kind}.cell", str(error)))
            return None

    def _climate(self, service: Service) -> None:
        try:
            self.ambient_K = self._shelf.climate(service.ambient)
        except InputError as error:
            self._faults.append(Fault("service.climate", str(error)))

    def _function(self, place: str, name: FunctionName) -> None:
        try:
            self.functions[name] = self._shelf.function(*name)
        except InputError as error:
            self._faults.append(Fault(place, str(error)))

    def _history(self, place: str, spec: HistoryInput, pack: Battery | Ultracapacitor | None) -> None:
        series, parallel = (1, 1) if pack is None else (pack.series, pack.parallel)
        try:
            self.histories[spec] = self._shelf.history(spec, series=series, parallel=parallel)
        except HistoryError as error:
            self._refused.add(spec)
            self._faults.append(Fault(place, str(error)))


def _valid(model: type[Model], data: Any) -> Model | None:
    """The section if it is sound; its own faults are already on the schema's list."""
    try:
        return model.model_validate(data)
    except ValidationError:
        return None


def _strategies(data: Mapping[str, Any]) -> Iterator[tuple[int, Mapping[str, Any]]]:
    """Every strategy that is a table, with its number counted from 1; others are already on the schema's list."""
    strategies = data.get("strategy")
    for number, strategy in enumerate(strategies if isinstance(strategies, list | tuple) else (), start=1):
        if isinstance(strategy, Mapping):
            yield number, strategy


def _inputs(data: Mapping[str, Any]) -> Iterator[tuple[str, HistoryInput]]:
    for number, strategy in _strategies(data):
        for key in ("demand", "battery", "ultracapacitor"):
            spec = _valid(HistoryInput, strategy.get(key)) if key in strategy else None
            if spec is not None:
                yield f"strategy[{number}].{key}", spec


def _rules(data: Mapping[str, Any]) -> Iterator[tuple[str, Rule]]:
    """Every sound rule; the faults of the others are already on the schema's list."""
    for number, strategy in _strategies(data):
        if strategy.get("split") is not None:
            with suppress(ValidationError):
                yield f"strategy[{number}].split", read_rule(strategy["split"])


def _check_lengths(study: Study, opened: _Opened, faults: list[Fault]) -> None:
    """Both histories of a strategy must cover the same time, or one source works more of the day than the other."""
    for number, strategy in enumerate(study.strategy, start=1):
        if strategy.battery is None or strategy.ultracapacitor is None:
            continue
        battery, bank = (opened.histories[spec].duration_s for spec in (strategy.battery, strategy.ultracapacitor))
        if abs(battery - bank) > _SAME_LENGTH * max(battery, bank):
            faults.append(
                Fault(
                    f"strategy[{number}].ultracapacitor",
                    f"must cover the same time as the battery's history: it lasts {bank:,.0f} s, the battery's "
                    f"{battery:,.0f} s. Give both from one run, cut to the same stretch.",
                )
            )


def _check_voltages(study: Study, opened: _Opened, faults: list[Fault]) -> None:
    """Bank voltages against what its cells allow."""
    bank, cell = study.ultracapacitor, opened.ultracapacitor
    if bank is None or cell is None:
        return
    by_cell = bank.voltages_of == "cell"
    most = cell.maximum_voltage_V * (1 if by_cell else bank.series)
    in_series = f"{bank.series} cells of {cell.maximum_voltage_V:g} V in series"
    of_what = 'one cell, as voltages_of = "cell"' if by_cell else in_series
    remedy = "Use a lower voltage" if by_cell else "Use more cells in series or a lower voltage"
    highest = bank.maximum_voltage_V or most
    limits = [("maximum_voltage_V", highest, most), ("start_voltage_V", bank.start_voltage_V, highest)]
    limits.append(("rest_voltage_V", bank.rest_voltage_V, most))
    for number, strategy in enumerate(study.strategy, start=1):
        # With a design of its own a strategy is held against the bank that it sees.
        if strategy.split is not None and strategy.design is None:
            found = strategy.split.voltage_setpoint_faults(bank.minimum_voltage_V, highest)
            faults.extend(Fault(f"strategy[{number}].split.{key}", text) for key, text in found)
    for key, value, limit in limits:
        if value > limit * (1.0 + 1e-9):
            faults.append(
                Fault(
                    f"ultracapacitor.{key}",
                    f"must not exceed {limit:g} V ({of_what}), got {value:g} V. {remedy}.",
                )
            )
