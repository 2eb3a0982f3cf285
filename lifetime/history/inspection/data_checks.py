"""Data checks of the suggested columns, gathered over one pass in fixed memory."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from lifetime.checks import FloatArray
from lifetime.history.block import BLOCK_SAMPLES, IntArray
from lifetime.history.cleaning.counts import RowCount
from lifetime.history.cleaning.spikes import spikes
from lifetime.history.inspection.charge_drift import ChargeDriftFit
from lifetime.history.inspection.lost_signals import LostSignalCheck
from lifetime.history.inspection.stuck_sensors import StuckSensorCheck

_WATCHED = ("current", "power", "voltage", "temperature")


@dataclass(slots=True)
class SpikeCheck:
    """Spikes of one channel.

    Args:
        rows: How many.
        first_row: Row in the file of the first one.
        first_value: Its value, in SI.
    """

    rows: int
    first_row: int
    first_value: float


class DataChecks:
    """Stuck sensors, spikes, charge drift and magnitudes of the suggested channels, all in SI.

    Args:
        quantities: Quantities with a suggested column, besides time.
        has_soc: True where a state of charge is logged.
    """

    def __init__(self, quantities: set[str], *, has_soc: bool) -> None:
        self.watched = [quantity for quantity in _WATCHED if quantity in quantities]
        self.stuck_sensors = {
            quantity: StuckSensorCheck(rests_at_zero=quantity in ("current", "power")) for quantity in self.watched
        }
        self.spikes: dict[str, SpikeCheck] = {}
        self.charge_drift = ChargeDriftFit() if has_soc and "current" in quantities else None
        self.soc_range: tuple[float, float] | None = None
        self.repeated = RowCount()
        self.lost_signals = LostSignalCheck()
        self.charge_As = [0.0, 0.0]
        self._sums = np.zeros(2)  # of |power| and of |voltage times current|
        self._moved, self._rows = 0.0, 0
        self._last: dict[str, float] = {}
        self._before: tuple[float, float] | None = None
        self._waiting: list[tuple[IntArray, dict[str, FloatArray]]] = []
        self._count = 0

    def add(self, rows: IntArray, channels: Mapping[str, FloatArray], soc: FloatArray | None) -> None:
        """Add rows in which every suggested channel has a number.

        Args:
            rows: Rows in the file.
            channels: Time and the channels, in SI.
            soc: State of charge, 0..1, NaN where missing; None where none is logged.
        """
        if rows.size == 0:
            return
        with np.errstate(over="ignore", invalid="ignore"):  # absurd magnitudes are named by their own finding
            self._add_movement(rows, channels)
            self._add_power(channels)
            self._add_charge(channels)
            if soc is not None:
                self._add_soc(channels, soc)
        self.lost_signals.add(channels["time"], rows, channels.get("voltage"), channels.get("temperature"))
        self._waiting.append((rows, {name: channels[name] for name in self.watched}))
        self._count += int(rows.size)
        if self._count >= BLOCK_SAMPLES:
            self.look_for_spikes()

    def _add_movement(self, rows: IntArray, channels: Mapping[str, FloatArray]) -> None:
        drive = self._drive(channels)
        for name, check in self.stuck_sensors.items():
            beside = ("voltage", "temperature") if name == "current" else _WATCHED
            other = next((candidate for candidate in beside if candidate in channels and candidate != name), None)
            if other is not None:
                check.add(channels[name], channels[other], rows)
        if drive is not None and drive.size:
            steps = np.abs(np.diff(drive, prepend=self._last.get("drive", float(drive[0]))))
            self._moved += float(steps.sum())
            self._rows += int(drive.size)
            time = channels["time"]
            same = np.diff(time, prepend=self._last.get("time", np.nan)) == 0.0
            for name in self.watched:
                same &= np.diff(channels[name], prepend=self._last.get(name, np.nan)) == 0.0
            if same.any():
                self.repeated.add(rows[same])
            self._last = {name: float(channels[name][-1]) for name in (*self.watched, "time")}
            self._last["drive"] = float(drive[-1])

    def _drive(self, channels: Mapping[str, FloatArray]) -> FloatArray | None:
        return channels.get("current", channels.get("power"))

    def _add_power(self, channels: Mapping[str, FloatArray]) -> None:
        if {"current", "voltage", "power"} <= channels.keys():
            product = np.abs(channels["current"] * channels["voltage"])
            self._sums += [float(np.abs(channels["power"]).sum()), float(product.sum())]

    def _add_charge(self, channels: Mapping[str, FloatArray]) -> None:
        if "current" not in channels:
            return
        # The interval from the stretch before is part of the sum, so that it does not depend on the stretches.
        before = self._before or (float(channels["time"][0]), float(channels["current"][0]))
        time, current = (np.concatenate([[b], channels[n]]) for b, n in zip(before, ("time", "current"), strict=True))
        self._before = (float(time[-1]), float(current[-1]))
        steps = np.clip(np.diff(time), 0.0, None)
        mean = 0.5 * (current[1:] + current[:-1])
        self.charge_As[0] += float(np.sum(steps * np.maximum(mean, 0.0)))
        self.charge_As[1] += float(np.sum(steps * np.maximum(-mean, 0.0)))

    def _add_soc(self, channels: Mapping[str, FloatArray], soc: FloatArray) -> None:
        known = np.isfinite(soc)
        if not known.any():
            return
        low, high = float(soc[known].min()), float(soc[known].max())
        if self.soc_range is not None:
            low, high = min(low, self.soc_range[0]), max(high, self.soc_range[1])
        self.soc_range = (low, high)
        if self.charge_drift is not None and -0.1 <= low <= high <= 1.5:
            self.charge_drift.add(channels["time"][known], channels["current"][known], soc[known])

    def look_for_spikes(self) -> None:
        """Judge the rows gathered since the last time."""
        if not self._waiting:
            return
        rows = np.concatenate([part for part, _ in self._waiting])
        for name in self.watched:
            values = np.concatenate([part[name] for _, part in self._waiting])
            with np.errstate(over="ignore", invalid="ignore"):
                positions = spikes(values)
            if positions.size:
                first = SpikeCheck(0, int(rows[positions[0]]), float(values[positions[0]]))
                self.spikes.setdefault(name, first).rows += int(positions.size)
        self._waiting, self._count = [], 0

    @property
    def power_ratio(self) -> float | None:
        """Mean |power| over mean |voltage times current|, or None where one is missing or nothing flows."""
        power, product = self._sums.tolist()
        return power / product if product > 0.0 and np.isfinite(power / product) else None

    def step_fraction(self, span: float) -> float | None:
        """Mean |step| of the drive over its range, or None.

        Args:
            span: Its range.
        """
        return self._moved / self._rows / span if self._rows and span > 0.0 and np.isfinite(self._moved) else None
