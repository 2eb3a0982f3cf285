"""What a strategy's working day amounts to, seen from the bus."""

import numpy as np

from lifetime.assessment.setups import Drivetrain
from lifetime.assessment.traces import DrivetrainTraces
from lifetime.checks import FloatArray
from lifetime.constants import JOULES_PER_KWH, SECONDS_PER_HOUR
from lifetime.costing.ranking import TripFigures
from lifetime.stress.drive import Drive
from lifetime.stress.source import Source

_ENERGY_POINTS = 513


def trip_figures(name: str, drivetrain: Drivetrain, traces: DrivetrainTraces) -> TripFigures:
    """Energy, duration and net charge of a working day.

    Args:
        name: The strategy's name.
        drivetrain: Its sources.
        traces: Their traced days.
    """
    day = traces.battery.new
    energy = _terminal_energy_J(day.drive, drivetrain.battery.source)
    stored = 0.0
    if traces.ultracapacitor is not None and drivetrain.ultracapacitor is not None:
        drive, source = traces.ultracapacitor.new.drive, drivetrain.ultracapacitor.source
        energy += _terminal_energy_J(drive, source)
        stored = _stored_energy_J(drive, source)
    return TripFigures(
        name=name,
        energy_kWh=energy / JOULES_PER_KWH,
        duration_s=day.drive.duration_s,
        net_battery_charge_Ah=day.open_charge_As / SECONDS_PER_HOUR,
        net_ultracapacitor_energy_kWh=stored / JOULES_PER_KWH,
        battery_throughput_Ah=day.throughput_As / SECONDS_PER_HOUR,
    )


def _stored_energy_J(drive: Drive, source: Source) -> float:
    """Net energy taken out of the source's store over the drive [J]; voltage depends on charge alone."""
    charge = np.linspace(0.0, drive.drawn_As, _ENERGY_POINTS)
    voltage: FloatArray = source.open_circuit_V(source.start_soc - charge / source.capacity_As)
    return float(np.trapezoid(voltage, charge))


def _terminal_energy_J(drive: Drive, source: Source) -> float:
    """Net energy delivered at the terminals over the drive [J], from measured voltage where there is one."""
    if drive.measured_energy_J is not None:
        return drive.measured_energy_J
    return _stored_energy_J(drive, source) - source.resistance_ohm * drive.squared_A2s
