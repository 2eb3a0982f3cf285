"""The one contract between stress and ageing: clocks add, fade maps.

A mechanism whose damage is ``x = k(stress) * u**z`` (u time, throughput or cycles) keeps a clock ``y = x**(1/z)``,
which simply adds: ``dy = k**(1/z) du``. So a law is two functions: ``clocks`` says how far a block of duty turns each
clock, ``fade`` says what the clocks mean. Blocks, days, seasons and drive modes add; nothing outside this room knows
any law's form, and batteries and ultracapacitors obey the same contract.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Literal, Protocol

import numpy as np

from lifetime.checks import FloatArray
from lifetime.notices import Notice

Part = Literal["calendar", "cycle"]
Sight = Literal[
    "c_rate",
    "charge_c_rate",
    "discharge_c_rate",
    "depth",
    "cycle_mean_soc",
    "temperature",
    "cycle_temperature",
    "soc",
]


@dataclass(frozen=True, slots=True)
class Stress:
    """What one block of duty does to one cell.

    All arrays are float64. The last axis runs over bins (time) or over cycle classes (cycles); leading axes, if any,
    are conditions evaluated side by side (for example the twelve months) and broadcast against each other.

    For an ultracapacitor ``soc`` is the charge fraction V / V_rated, ``depth`` the voltage swing / V_rated, and
    ``voltage_V`` the capacitor voltage, so that the same record serves both kinds of source.

    Args:
        duration_s: Time spent in each bin [s], >= 0.
        soc: Mean state of charge in each bin [0..1].
        temperature_K: Mean temperature of the (hottest) cell in each bin [K].
        voltage_V: Open-circuit voltage of the cell in each bin [V].
        count: Cycles in each class, 1 per full and 0.5 per half cycle [1], >= 0.
        depth: Cycle depth in each class, relative to present capacity [0..1].
        mean_soc: Mean of the cycle's two ends [0..1].
        c_rate: Mean |current| of the cycle over present capacity [1/h], by time or by throughput.
        charge_c_rate: Mean charging current of the cycle's charging half over present capacity [1/h].
        discharge_c_rate: Mean |current| of the cycle's discharging half over present capacity [1/h].
        cycle_temperature_K: Throughput-weighted mean temperature of the cycle [K].
        rms_voltage_V: Quadratic mean of the open-circuit voltage over the cycle's SOC range [V].
        throughput_fec: Equivalent full cycles in each class of the *rated* capacity [1]; one is a full
            discharge plus a full charge. Equals ``count * depth * present capacity / rated capacity``.
        rms_current_A: Root mean square cell current over the loaded time of the block [A], shape of the conditions or
            scalar.
        loaded_fraction: Share of each bin's time in which that current flows [0..1]; 1 where the whole block is loaded,
            0 in a bin of rest.
    """

    duration_s: FloatArray
    soc: FloatArray
    temperature_K: FloatArray
    voltage_V: FloatArray
    count: FloatArray
    depth: FloatArray
    mean_soc: FloatArray
    c_rate: FloatArray
    charge_c_rate: FloatArray
    discharge_c_rate: FloatArray
    cycle_temperature_K: FloatArray
    rms_voltage_V: FloatArray
    throughput_fec: FloatArray
    rms_current_A: FloatArray
    loaded_fraction: FloatArray = field(default_factory=lambda: np.ones(()))


@dataclass(frozen=True, slots=True)
class Mechanism:
    """One additive ageing process inside a law.

    Args:
        name: lower_snake_case, for example ``calendar_capacity``.
        part: Whether it counts as calendar or as cycle ageing in the shares.
    """

    name: str
    part: Part


@dataclass(frozen=True, slots=True)
class Health:
    """What the clocks mean.

    Args:
        capacity_fraction: Remaining capacity (or capacitance) over initial [fraction]; scalar or shape of the clocks
            without their last axis. May fall below 0 where a law runs away; the caller decides where to stop.
        resistance_ratio: Resistance (or ESR) over initial [1], >= 1. Laws without a resistance part return 1.
    """

    capacity_fraction: FloatArray
    resistance_ratio: FloatArray


class AgeingLaw(Protocol):
    """A published relation from stress to capacity fade and resistance growth."""

    @property
    def mechanisms(self) -> Sequence[Mechanism]:
        """The clocks this law keeps, in the order of the last axis of ``clocks``."""

    @property
    def sees(self) -> frozenset[Sight]:
        """The stresses this law responds to; the report says what it is blind to."""

    @property
    def has_resistance(self) -> bool:
        """Whether the law predicts resistance growth at all."""

    def clocks(self, stress: Stress) -> FloatArray:
        """How far this block turns each clock: shape (conditions..., mechanisms), every value finite and >= 0."""

    def fade(self, clocks: FloatArray) -> Health:
        """Health after the clocks have turned this far: input shape (..., mechanisms), output shape (...)."""

    def capacity_loss_by_mechanism(self, clocks: FloatArray) -> FloatArray:
        """Capacity loss attributed to each mechanism [fraction], shape of ``clocks``.

        Sums to ``1 - capacity_fraction`` along the last axis. Where a law maps a sum of clocks, the loss is shared in
        proportion to the clocks.
        """

    def without_limits(self) -> "AgeingLaw":
        """The law extrapolated where it is held at an end of its fitted range; itself where nothing is held."""

    def share_in_range(self, stress: Stress) -> float:
        """Share of this block inside the range the law was fitted on [0..1]: the smaller of time's and throughput's."""

    def range_notices(self, stress: Stress) -> list[Notice]:
        """What in this block lies outside the range the law was fitted on, with the share of time or throughput."""
