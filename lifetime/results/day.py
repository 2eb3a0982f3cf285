"""A strategy's day in a few hundred stretches: powers, drive modes, and where in the day capacity is lost."""

from typing import Final, Literal, Self

import numpy as np
from numpy.typing import NDArray

from lifetime.checks import FloatArray
from lifetime.results.records import AgeingTimeline, DaySplit, ModeRow
from lifetime.results.view import Numbers, SourceKind, View, rounded

DriveMode = Literal["traction", "regeneration", "battery_to_ultracapacitor", "ultracapacitor_to_battery", "idle"]

_STRETCHES: Final = 160
_DIGITS: Final = 5


class Band(View):
    """Lowest and highest power of each stretch [W], so that no peak is lost."""

    low: Numbers
    high: Numbers

    @classmethod
    def of(cls, values: FloatArray, starts: NDArray[np.intp]) -> Self:
        """The band of a series.

        Args:
            values: The series, shape (n,).
            starts: Where each stretch begins.
        """
        return cls(
            low=rounded(np.minimum.reduceat(values, starts), _DIGITS),
            high=rounded(np.maximum.reduceat(values, starts), _DIGITS),
        )


class DayCapacityLoss(View):
    """Capacity loss at service end by when in the day it comes about, as fractions of the initial capacity.

    The two series hold one value a stretch of the drive; charging and rest stand apart, and all sum to the total.
    """

    calendar_fraction: Numbers
    cyclic_fraction: Numbers
    charging_fraction: float
    resting_fraction: float
    total_fraction: float

    @classmethod
    def of(cls, loss: AgeingTimeline, starts: NDArray[np.intp], passes: int) -> Self:
        """The loss laid over the stretches of one drive.

        Args:
            loss: By interval of the day.
            starts: Where each stretch begins.
            passes: Equal drives that the day is made of, >= 1.
        """
        return cls(
            calendar_fraction=rounded(_summed(loss.calendar_fraction, starts, passes), _DIGITS),
            cyclic_fraction=rounded(_summed(loss.cyclic_fraction, starts, passes), _DIGITS),
            charging_fraction=loss.charging_fraction,
            resting_fraction=loss.resting_fraction,
            total_fraction=loss.total_fraction,
        )


class ModeView(View):
    """What one source does in one drive mode over a day."""

    mode: DriveMode
    source: SourceKind
    duration_s: float
    energy_out_kWh: float
    energy_in_kWh: float
    throughput_Ah: float
    rms_current_A: float
    energy_losses_kWh: float
    capacity_loss_share_fraction: float

    @classmethod
    def of(cls, row: ModeRow) -> Self:
        """The row as it is told.

        Args:
            row: Of the record.
        """
        return cls.model_validate(
            {
                "mode": row.mode,
                "source": row.part,
                "duration_s": row.time_s,
                "energy_out_kWh": row.energy_out_kWh,
                "energy_in_kWh": row.energy_in_kWh,
                "throughput_Ah": row.throughput_Ah,
                "rms_current_A": row.rms_A,
                "energy_losses_kWh": row.loss_kWh,
                "capacity_loss_share_fraction": row.capacity_loss_share_fraction,
            }
        )


class DayView(View):
    """A day in stretches of equal length; where it repeats one drive, the first one's powers are shown."""

    drives: int
    edges_s: Numbers
    demand_W: Band
    battery_W: Band
    ultracapacitor_W: Band
    battery_capacity_loss: DayCapacityLoss
    ultracapacitor_capacity_loss: DayCapacityLoss | None
    modes: tuple[ModeView, ...]
    mode_changes: int
    transfer_kWh: float

    @classmethod
    def of(cls, day: DaySplit) -> Self:
        """Sum a day up in stretches, and its modes in rows; the capacity loss of all drives is summed upon the first.

        Args:
            day: The day interval by interval.
        """
        n = day.length_s.size // day.passes
        length = day.length_s[:n]
        ends = np.cumsum(length)
        edges = np.linspace(0.0, float(ends[-1]), min(_STRETCHES, n) + 1)
        starts = np.minimum(np.searchsorted(ends - 0.5 * length, edges[:-1]), n - 1)
        bank = day.ultracapacitor
        return cls(
            drives=day.passes,
            edges_s=rounded(edges, _DIGITS),
            demand_W=Band.of(day.demand_W[:n], starts),
            battery_W=Band.of(day.battery_W[:n], starts),
            ultracapacitor_W=Band.of(day.ultracapacitor_W[:n], starts),
            battery_capacity_loss=DayCapacityLoss.of(day.battery, starts, day.passes),
            ultracapacitor_capacity_loss=None if bank is None else DayCapacityLoss.of(bank, starts, day.passes),
            modes=tuple(ModeView.of(row) for row in day.rows),
            mode_changes=day.mode_changes,
            transfer_kWh=float(f"{day.transfer_kWh:.{_DIGITS}g}"),
        )


def _summed(values: FloatArray, starts: NDArray[np.intp], passes: int) -> FloatArray:
    folded = values.reshape(passes, -1).sum(axis=0)
    sums = np.concatenate([[0.0], np.cumsum(folded)])
    return np.asarray(np.diff(sums[np.append(starts, folded.size)]))
