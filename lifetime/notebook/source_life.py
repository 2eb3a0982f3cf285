"""The life of one source by itself, in one call."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from pydantic import ValidationError

from lifetime.checks import FloatArray
from lifetime.errors import InputError, StudyError
from lifetime.history.model import History
from lifetime.notebook.source_tables import cycle_frame, trajectory_frame
from lifetime.results.records import SourceResult
from lifetime.results.view import LifeState
from lifetime.text import significant

if TYPE_CHECKING:
    import pandas as pd

    from lifetime.assessment.setups import SourceSetup
    from lifetime.packs.cell import Cell
    from lifetime.study.duty import Service


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class SourceLife:
    """The predicted life of one source.

    Args:
        result: Everything that the assessment says of it.
        ambient_K: Ambient temperature [K] by month, shape (12,), or by hour, shape (8760,).
    """

    result: SourceResult
    ambient_K: FloatArray

    @property
    def years(self) -> float | None:
        """Time to the first end-of-life criterion [years]; None beyond the search limit."""
        return self.result.life_years

    @property
    def state(self) -> LifeState:
        """``reached``, ``beyond_search_limit`` or ``requirement_not_met``."""
        return self.result.life_state

    @property
    def criterion(self) -> str | None:
        """The first criterion reached: capacity, resistance, capacitance, esr, requirement or power; or None."""
        return self.result.end_of_life_criterion

    @property
    def warnings(self) -> tuple[str, ...]:
        """What weakens the result, in sentences."""
        return tuple(one.message for one in self.result.notices if one.severity == "warning")

    def trajectory(self) -> "pd.DataFrame":
        """Health over the service, one row a month; columns as in ``trajectory`` of an assessed strategy."""
        return trajectory_frame(self.result)

    def cycles(self) -> "pd.DataFrame":
        """The cycles of the traced day at the beginning of life; columns as in ``cycles`` of an assessed strategy."""
        return cycle_frame(self.result)

    def __repr__(self) -> str:
        """Life, criterion and load in a few lines."""
        from lifetime.report.words import PARTS, end_sentence  # noqa: PLC0415 - slow imports
        from lifetime.results.source import BatteryView, UltracapacitorView  # noqa: PLC0415

        view = BatteryView if self.result.kind == "battery" else UltracapacitorView
        told = view.of(self.result, self.ambient_K)
        load = f"{significant(self.result.rms_current_A)} A rms, {significant(self.result.peak_current_A)} A peak."
        lines = [f"{PARTS[self.result.kind]} of {self.result.cell}. {end_sentence(told)} {load}"]
        lines += [f"  warning: {message}" for message in self.warnings]
        return "\n".join(lines)


def source_life(
    history: History,
    *,
    cell: str | Path,
    series: int,
    parallel: int,
    ambient_C: float | Sequence[float] | None = None,
    climate: str | None = None,
    days_per_year: float = 365.0,
    drive_repeats: int = 1,
    service_years: float = 10.0,
    start_soc: float = 0.9,
    charge_c_rate: float | None = 0.5,
    voltage_window_V: tuple[float, float] | None = None,
    rest_voltage_V: float | None = None,
    thermal: dict[str, float] | None = None,
) -> SourceLife:
    """Predict the life of one battery pack or ultracapacitor bank from its history.

    Args:
        history: Its current or power, positive when it discharges, for example from ``History.from_arrays``.
        cell: Id of a shipped parameter set, or path of one of your own; it says whether this is a battery.
        series: Cells in series, >= 1.
        parallel: Cells in parallel, >= 1.
        ambient_C: Ambient temperature [°C], one number or 12 monthly means; give either this or a climate.
        climate: Name of a shipped climate, or path of an hourly weather file (EPW, TMY3).
        days_per_year: Days on which the history is driven [1/year], 0 to 365; the others are rest.
        drive_repeats: How often the history is driven on such a day, >= 1.
        service_years: Horizon of the figures at service end [years], up to 50.
        start_soc: State of charge at the start of the day, to which a battery is charged again [0..1].
        charge_c_rate: Charging rate of a battery [1/h]; None where it is never charged from outside.
        voltage_window_V: Lowest and highest voltage of a bank [V], whose day begins at the highest; half of the rated
            voltage and the rated voltage unless given.
        rest_voltage_V: Voltage of a bank at rest [V]; that at the start of the day unless given.
        thermal: Keys of ``[battery.thermal]`` in a study file; ambient temperature however loaded unless given.

    Raises:
        InputError: A value is out of range, or there is no such parameter set.
        AssessmentError: The day does not fit into 24 h.

    Example:
        >>> import lifetime as pw
        >>> trip = pw.History.from_arrays(time_s=[0.0, 1800.0, 3600.0], current_A=[0.0, 60.0, 0.0])
        >>> life = pw.source_life(trip, cell="lfp_naumann_2020", series=180, parallel=40, ambient_C=20.0)
        >>> life.criterion
        'capacity'
        >>> list(life.trajectory().columns[:2])
        ['years', 'capacity_fraction']
    """
    from lifetime.assessment.setups import Operation  # noqa: PLC0415 - slow imports
    from lifetime.assessment.single_source import assess_single_source  # noqa: PLC0415

    pack = {"cell": str(cell), "series": series, "parallel": parallel, "thermal": thermal}
    days = {
        "years": service_years,
        "working_days_per_year": days_per_year,
        "climate": climate,
        "ambient_C": ambient_C,
        "day": {"drive_repeats": drive_repeats},
    }
    setup, service = _described(pack, days, start_soc, charge_c_rate, (voltage_window_V, rest_voltage_V))
    ambient_K = _ambient_K(service)
    day = service.day
    operation = Operation(
        service_years,
        ambient_K,
        day.drive_repeats,
        service.runs_per_year,
        day.charger_efficiency,
        day.drive_starts_at_hour,
    )
    return SourceLife(assess_single_source(setup, history, operation), ambient_K)


def _described(
    pack: dict[str, Any],
    days: dict[str, Any],
    start_soc: float,
    charge_c_rate: float | None,
    voltages_V: tuple[tuple[float, float] | None, float | None],
) -> "tuple[SourceSetup, Service]":
    """The source and its service, checked by the schema of a study."""
    from lifetime.study.faults import schema_faults  # noqa: PLC0415 - slow import

    cell, kind = _cell(pack["cell"])
    charging = {"charge_c_rate": charge_c_rate, "charge_to_soc": start_soc}
    try:
        service = _service(days, charging if kind == "battery" and charge_c_rate is not None else {})
        if kind == "battery":
            return _battery(pack | {"start_soc": start_soc}, cell, service), service
        return _bank(pack, cell, service, *voltages_V), service
    except ValidationError as error:
        raise StudyError("source_life", list(schema_faults(error))) from None


def _ambient_K(service: "Service") -> FloatArray:
    from lifetime.packs.climate import load_climate  # noqa: PLC0415 - slow import

    return load_climate(service.ambient, Path())


def _service(days: dict[str, Any], charging: dict[str, float | None]) -> "Service":
    from lifetime.study.duty import Service  # noqa: PLC0415 - slow import

    ambient = days["ambient_C"]
    listed = list(ambient) if isinstance(ambient, Sequence) else ambient
    return Service.model_validate(days | {"ambient_C": listed, "day": days["day"] | charging})


def _cell(name: str | Path) -> "tuple[Cell, Literal['battery', 'ultracapacitor']]":
    """The parameter set, whichever kind it is of."""
    from lifetime.packs.load import load_cell  # noqa: PLC0415 - slow import
    from lifetime.packs.locate import shipped_ids  # noqa: PLC0415

    if str(name) in shipped_ids("ultracapacitors"):
        return load_cell(str(name), "ultracapacitor", Path()), "ultracapacitor"
    try:
        return load_cell(str(name), "battery", Path()), "battery"
    except InputError as as_battery:
        try:
            return load_cell(str(name), "ultracapacitor", Path()), "ultracapacitor"
        except InputError:
            raise as_battery from None


def _battery(pack: dict[str, Any], cell: "Cell", service: "Service") -> "SourceSetup":
    from lifetime.assessment.resolution import battery_setup  # noqa: PLC0415 - slow imports
    from lifetime.study.evaluation import Counting, EndOfLife  # noqa: PLC0415
    from lifetime.study.sections import Battery  # noqa: PLC0415

    section = Battery.model_validate(pack | {"price": {"purchase": 0.0}})
    return battery_setup(section, cell, EndOfLife(), service, Counting())


def _bank(
    pack: dict[str, Any],
    cell: "Cell",
    service: "Service",
    window_V: tuple[float, float] | None,
    rest_V: float | None,
) -> "SourceSetup":
    from lifetime.assessment.resolution import ultracapacitor_setup  # noqa: PLC0415 - slow imports
    from lifetime.study.evaluation import EndOfLife  # noqa: PLC0415
    from lifetime.study.sections import Ultracapacitor  # noqa: PLC0415

    rated = cell.maximum_voltage_V * int(pack["series"])
    low, high = window_V or (0.5 * rated, rated)
    if high > rated * (1.0 + 1e-9):
        raise InputError(
            f"voltage_window_V must not exceed {rated:g} V ({pack['series']} cells of {cell.maximum_voltage_V:g} V in "
            f"series), got {high:g} V. Use more cells in series or a lower voltage."
        )
    if rest_V is not None and rest_V > rated * (1.0 + 1e-9):
        raise InputError(
            f"rest_voltage_V must not exceed {rated:g} V ({pack['series']} cells of {cell.maximum_voltage_V:g} V in "
            f"series), got {rest_V:g} V. Use more cells in series or a lower voltage."
        )
    voltages = {
        "start_voltage_V": high,
        "minimum_voltage_V": low,
        "maximum_voltage_V": high,
        "rest_voltage_V": high if rest_V is None else rest_V,
    }
    section = Ultracapacitor.model_validate(pack | voltages | {"price": {"purchase": 0.0}})
    return ultracapacitor_setup(section, cell, EndOfLife(), service)
