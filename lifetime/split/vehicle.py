"""A longitudinal vehicle: from speed to the power that the sources must deliver together."""

from dataclasses import dataclass

import numpy as np

from lifetime.checks import FloatArray

GRAVITY_M_S2 = 9.80665
"""Standard gravity (ISO 80000-3)."""
AIR_KG_M3 = 1.2041
"""Air at 20 °C and 101.325 kPa (ISO 2533 relations)."""


@dataclass(frozen=True, slots=True)
class Vehicle:
    """What moves.

    Args:
        mass_kg: Mass with load [kg], > 0.
        rolling_resistance: Coefficient of rolling resistance [1], >= 0.
        drag_area_m2: Drag coefficient times frontal area [m²], >= 0.
        rotating_mass_fraction: Rotating parts as a fraction of the mass [1], >= 0.
        drive_efficiency: From the sources to the wheels and back, each way [1], above 0, up to 1.
        recuperation_fraction: Fraction of the braking power at the wheels that the machine takes [1], 0 to 1.
        auxiliary_W: Everything else on board [W], >= 0.
    """

    mass_kg: float
    rolling_resistance: float
    drag_area_m2: float
    rotating_mass_fraction: float = 0.0
    drive_efficiency: float = 1.0
    recuperation_fraction: float = 1.0
    auxiliary_W: float = 0.0


def demand_of(vehicle: Vehicle, length_s: FloatArray, speed_m_s: FloatArray) -> FloatArray:
    """Mean power of each interval between speeds.

    Within an interval the speed runs straight; forces are those of the mean speed, the inertia exactly that of the
    change of kinetic energy.

    Args:
        vehicle: The vehicle.
        length_s: Length of each interval [s], shape (n,), >= 0.
        speed_m_s: Speed at the intervals' ends [m/s], shape (n + 1,), >= 0.

    Returns:
        Mean power [W], shape (n,), positive towards the machine; auxiliaries alone where no time passes.

    Source:
        ``P = (m (1 + r) a + m g f + 1/2 rho c_d A v**2) v`` on a level road; any textbook on vehicle dynamics.
    """
    mean = 0.5 * (speed_m_s[:-1] + speed_m_s[1:])
    mass = vehicle.mass_kg * (1.0 + vehicle.rotating_mass_fraction)
    kinetic = 0.5 * mass * np.diff(speed_m_s**2)
    inertia = np.divide(kinetic, length_s, out=np.zeros(length_s.size), where=length_s > 0.0)
    rolling = vehicle.mass_kg * GRAVITY_M_S2 * vehicle.rolling_resistance * mean
    drag = 0.5 * AIR_KG_M3 * vehicle.drag_area_m2 * mean**3
    wheels = inertia + rolling + drag
    driven = np.where(
        wheels > 0.0,
        wheels / vehicle.drive_efficiency,
        wheels * vehicle.recuperation_fraction * vehicle.drive_efficiency,
    )
    return np.asarray(driven + vehicle.auxiliary_W)
