"""Where a source's energy went over its traced day: out of the store, through the terminals, into heat."""

from dataclasses import dataclass

import numpy as np

from lifetime.checks import FloatArray
from lifetime.stress.drive import Drive
from lifetime.stress.source import Source

_ENERGY_POINTS = 513


@dataclass(frozen=True, slots=True)
class EnergyBalance:
    """Net energies of one source over the drive of a day, charging after it left out.

    Args:
        stored_J: Taken out of the store [J]; below 0 where the source ends fuller.
        terminal_J: Delivered at the terminals [J], from measured voltage where there is one.
        heat_J: Lost in the resistance [J], >= 0; without a measured voltage the store gives the other two.
        duration_s: Time driven [s], > 0.
    """

    stored_J: float
    terminal_J: float
    heat_J: float
    duration_s: float

    @property
    def stored_W(self) -> float:
        """What leaves the store on average over the drive [W]."""
        return self.stored_J / self.duration_s


def energy_balance(drive: Drive, source: Source) -> EnergyBalance:
    """Balance of a traced drive.

    Args:
        drive: The day's driving, traced at the beginning of life.
        source: The source driven.
    """
    charge = np.linspace(0.0, drive.drawn_As, _ENERGY_POINTS)
    # The open-circuit voltage depends on charge alone, so what happened on the way does not matter.
    voltage: FloatArray = source.open_circuit_V(source.start_soc - charge / source.capacity_As)
    stored = float(np.trapezoid(voltage, charge))
    heat = source.resistance_ohm * drive.resistance_ratio * (drive.heat_A2s + drive.stored_A2s)
    terminal = stored - heat if drive.measured_energy_J is None else drive.measured_energy_J
    return EnergyBalance(stored, terminal, heat, drive.duration_s)
