"""A battery to reckon by hand: 100 Ah, a straight open-circuit line, and an ageing model that adds two losses."""

from dataclasses import dataclass, replace
from types import SimpleNamespace

import numpy as np
import pytest

from lifetime.ageing.contract import Health, Mechanism
from lifetime.assessment.demands import Demands
from lifetime.assessment.setups import (
    Drivetrain,
    HealthLimits,
    Operation,
    SourcePrice,
    SourceSetup,
    StudySetup,
    UltracapacitorSetup,
    YearlyDuty,
)
from lifetime.history.model import History
from lifetime.notices import Notice
from lifetime.packs.cell import Cell, OpenCircuitCurve, ProvenanceEntry
from lifetime.split.bank import Bank
from lifetime.stress.day import Charging, build_day
from lifetime.stress.drive import DriveTracer, trace_drive
from lifetime.stress.intervals import intervals
from lifetime.stress.source import Source
from lifetime.study.duty import Service
from lifetime.study.evaluation import Cost

CAPACITY_AH = 100.0
STANDING = {"rest_voltage_V", "refill_efficiency", "returns_energy", "standby_W"}
"""What an ultracapacitor's setup says of the time in which the vehicle stands."""


@dataclass(frozen=True)
class StraightModel:
    """Loses ``per_second * soc`` a second, and ``per_full_cycle * depth`` a cycle; the losses add."""

    per_second: float = 1e-9
    per_full_cycle: float = 0.0
    resistance_per_second: float = 0.0
    has_resistance: bool = False
    sees: frozenset[str] = frozenset({"soc", "depth"})

    mechanisms = (Mechanism("calendar", "calendar"), Mechanism("cycling", "cycle"), Mechanism("growth", "calendar"))

    def clocks(self, stress):
        time = np.sum(stress.duration_s * stress.soc, axis=-1) * self.per_second
        cycles = np.sum(stress.count * stress.depth, axis=-1) * self.per_full_cycle
        growth = np.sum(stress.duration_s * np.ones_like(stress.soc), axis=-1) * self.resistance_per_second
        conditions = np.broadcast_shapes(stress.temperature_K.shape[:-1], stress.cycle_temperature_K.shape[:-1])
        return np.stack([np.broadcast_to(part, conditions) for part in (time, cycles, growth)], axis=-1)

    def fade(self, clocks):
        return Health(1.0 - clocks[..., 0] - clocks[..., 1], 1.0 + clocks[..., 2])

    def capacity_loss_by_mechanism(self, clocks):
        return clocks * np.array([1.0, 1.0, 0.0])

    def without_limits(self):
        return self

    def share_in_range(self, stress):
        return 1.0

    def range_notices(self, stress):
        return [Notice("beyond_fitted_range", "It always is.")]


def open_circuit_V(soc):
    """300 V empty, 400 V full."""
    return 300.0 + 100.0 * np.asarray(soc)


@pytest.fixture
def model():
    return StraightModel


@pytest.fixture
def cell():
    """A cell with one number of the weakest grade given."""

    def _cell(grade="primary source", law=None, **more):
        entry = ProvenanceEntry("cell.capacity_Ah", CAPACITY_AH, "Ah", "invented", grade)
        facts = {
            "id": "invented",
            "kind": "battery",
            "title": "Invented cell",
            "chemistry": "none",
            "rated_capacity_Ah": CAPACITY_AH,
            "capacitance_F": None,
            "resistance_ohm": 0.1,
            "nominal_voltage_V": 350.0,
            "minimum_voltage_V": 250.0,
            "maximum_voltage_V": 420.0,
            "maximum_current_A": None,
            "continuous_current_A": None,
            "mass_kg": None,
            "thermal_resistance_K_per_W": None,
            "heat_capacity_J_per_K": None,
            "open_circuit": OpenCircuitCurve(np.array([0.0, 1.0]), np.array([300.0, 400.0]), "straight"),
            "law": law or StraightModel(),
            "tested_loss": None,
            "provenance": (entry,),
            "lowest_grade": grade,
            "caveats": (),
            "references": (),
            "sha256": "0",
        }
        return Cell(**facts | more)

    return _cell


@pytest.fixture
def battery(cell):
    """A battery of one invented cell; quantities of the source, and the other parts of its setup, may be changed."""

    def _battery(law=None, charging=None, limits=None, smallest_cycle_soc=0.0, **source):
        one = cell(law=law)
        facts = {
            "kind": "battery",
            "capacity_As": 3600.0 * CAPACITY_AH,
            "resistance_ohm": 0.1,
            "start_soc": 0.8,
            "rest_soc": None,
            "open_circuit_V": open_circuit_V,
            "minimum_voltage_V": 250.0,
            "maximum_voltage_V": 420.0,
            "minimum_soc": 0.0,
            "maximum_soc": 1.0,
            "thermal": None,
            "hot_spot_K": 0.0,
            "parallel": 1,
            "series": 1,
        }
        return SourceSetup(
            kind="battery",
            cell=one,
            source=Source(**facts | source),
            model=one.law,
            limits=limits or HealthLimits(0.8, 2.0),
            charging=charging or Charging(None, 0.8),
            price=SourcePrice(1000.0, 50.0),
            smallest_cycle_soc=smallest_cycle_soc,
        )

    return _battery


@pytest.fixture
def ultracapacitor(cell):
    """A bank of 100 F and 400 V: 40,000 As, started at 300 V, without resistance."""

    def _ultracapacitor(law=None, resistance_ohm=0.0, **bank):
        one = cell(law=law, kind="ultracapacitor", capacitance_F=100.0, maximum_voltage_V=400.0)
        source = Source(
            kind="ultracapacitor",
            capacity_As=40_000.0,
            resistance_ohm=resistance_ohm,
            start_soc=0.75,
            rest_soc=0.75,
            open_circuit_V=lambda soc: 400.0 * np.asarray(soc),
            minimum_voltage_V=100.0,
            maximum_voltage_V=400.0,
            minimum_soc=0.25,
            maximum_soc=1.0,
            thermal=None,
            hot_spot_K=0.0,
            parallel=1,
            series=1,
        )
        window = Bank(100.0, resistance_ohm, 100.0, 400.0, float("inf"))
        standing = {name: bank.pop(name) for name in STANDING & bank.keys()}
        return UltracapacitorSetup(
            kind="ultracapacitor",
            cell=one,
            source=source,
            model=one.law,
            limits=HealthLimits(0.8, 2.0),
            charging=Charging(None, 0.0),
            price=SourcePrice(500.0, 20.0),
            bank=replace(window, **bank),
            start_voltage_V=300.0,
            **{"rest_voltage_V": 300.0} | standing,
        )

    return _ultracapacitor


@pytest.fixture
def history():
    """A history of one sample a second, each value held."""

    def _history(values, quantity="current_A", **more):
        held = np.append(np.asarray(values, dtype=np.float64), 0.0)
        interpolation = more.pop("interpolation", "zero_order_hold")
        time = np.arange(held.size, dtype=np.float64)
        return History.from_arrays(time_s=time, **{quantity: held}, interpolation=interpolation, **more)

    return _history


@pytest.fixture
def day_of(history):
    """A source's day under currents, one a second."""

    def _day_of(setup, current_A):
        tracer = DriveTracer(setup.source, power_driven=False)
        return build_day(trace_drive(tracer, intervals(history(current_A))), setup.source, setup.charging)

    return _day_of


@pytest.fixture
def yearly():
    """Every day of the year at 25 °C, for ten years."""

    def _yearly(service_years=10.0, runs_per_year=365.0):
        return YearlyDuty(service_years, runs_per_year, np.full(12, 298.15))

    return _yearly


@pytest.fixture
def study_setup():
    """A setup of the given sources, as far as an assessment of traced days looks at it."""

    def _study_setup(battery, bank=None, **more):
        service = Service(years=10.0, working_days_per_year=365.0, ambient_C=25.0, distance_km_per_day=100.0)
        study = SimpleNamespace(service=service, cost=Cost(currency="EUR", discount_rate=0.0))
        loaded = SimpleNamespace(study=study, histories=more.get("histories", {}), functions={})
        operation = Operation(10.0, np.full(12, 298.15), more.get("repeats", 1), service.runs_per_year, 1.0)
        return StudySetup(loaded, Drivetrain(battery, bank), operation, Demands(loaded.histories, None))

    return _study_setup
