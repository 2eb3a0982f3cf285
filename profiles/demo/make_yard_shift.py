"""Makes ``yard_shift.csv``: the power demand of an invented yard tractor over an hour. Nothing was measured.

The scenario is our own: a tractor shunts semi-trailers about a freight yard, empty one way and loaded the other. Each
move starts, accelerates to a yard speed, holds it, brakes and waits for coupling. The power at the DC bus follows from
the forces on the vehicle: inertia, rolling, a little grade and air, one efficiency for the drive in each direction,
and a constant auxiliary load. Run it as ``python make_yard_shift.py``; the seed is fixed, so the file comes out the
same every time.
"""

import csv
from pathlib import Path

import numpy as np

SEED = 20260401
STEP_S = 1.0
SHIFT_S = 3600.0

TRACTOR_KG = 9_500.0
TRAILER_EMPTY_KG = 7_500.0
TRAILER_LOADED_KG = 29_000.0
ROLLING = 0.010  # coefficient on worn yard concrete
GRADE = 0.012  # typical slope of the yard, either way
AIR_KG_PER_M = 4.2  # 0.5 * density * drag coefficient * frontal area
GRAVITY = 9.81
DRIVE_EFFICIENCY = 0.88  # battery and bank to wheel, and back
DRIVE_LIMIT_W = 140_000.0  # at the wheel; the tractor then pulls away more slowly
BRAKE_LIMIT_W = 90_000.0  # at the wheel; the friction brakes take what is beyond
AUXILIARY_W = 3_500.0  # steering, brakes, cab


def pull_away(top: float, faster: float, mass_kg: float) -> np.ndarray:
    """Speed up to ``top`` [m/s], at a steady acceleration until the drive's power runs out."""
    speeds = [0.0]
    while speeds[-1] < top:
        speed = speeds[-1]
        speeds.append(speed + min(faster, DRIVE_LIMIT_W / (mass_kg * max(speed, 0.1))) * STEP_S)
    return np.minimum(speeds, top)


def speed_of_move(rng: np.random.Generator, mass_kg: float) -> np.ndarray:
    """Speed over one move [m/s], from standstill to standstill, then a wait."""
    top = rng.uniform(3.5, 8.0)
    faster, slower = rng.uniform(0.45, 0.85), rng.uniform(0.5, 0.95)
    held_s, waits_s = rng.uniform(8.0, 40.0), rng.uniform(25.0, 80.0)
    up = pull_away(top, faster, mass_kg)
    down = np.arange(top, 0.0, -slower * STEP_S)
    # A driver's foot is not a ramp generator: the held part wanders a little.
    wander = np.cumsum(rng.normal(0.0, 0.004, round(held_s / STEP_S)))
    held = np.maximum(top + wander - wander.mean(), 0.5)
    return np.concatenate([up, held, down, np.zeros(round(waits_s / STEP_S))])


def power_of_move(rng: np.random.Generator, *, loaded: bool) -> np.ndarray:
    """Power at the DC bus over one move [W], positive towards the machine."""
    mass = TRACTOR_KG + (TRAILER_LOADED_KG if loaded else TRAILER_EMPTY_KG)
    speed = speed_of_move(rng, mass)
    acceleration = np.gradient(speed, STEP_S)
    slope = GRADE * rng.choice([-1.0, 0.0, 1.0])
    force = mass * acceleration + mass * GRAVITY * (ROLLING * (speed > 0.0) + slope) + AIR_KG_PER_M * speed**2
    wheel = np.clip(force * speed, -BRAKE_LIMIT_W, DRIVE_LIMIT_W)
    return np.where(wheel > 0.0, wheel / DRIVE_EFFICIENCY, wheel * DRIVE_EFFICIENCY) + AUXILIARY_W


def main() -> None:
    """Write the file beside this script."""
    rng = np.random.default_rng(SEED)
    samples = round(SHIFT_S / STEP_S) + 1
    parts: list[np.ndarray] = []
    while sum(part.size for part in parts) < samples:
        parts.append(power_of_move(rng, loaded=len(parts) % 2 == 1))
    power = np.concatenate(parts)[:samples]
    power[-1] = AUXILIARY_W  # the shift ends standing
    with (Path(__file__).parent / "yard_shift.csv").open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file, lineterminator="\n")
        writer.writerow(["t_s", "p_dc_W"])
        writer.writerows([f"{k * STEP_S:.1f}", f"{value:.0f}"] for k, value in enumerate(power.tolist()))


if __name__ == "__main__":
    main()
