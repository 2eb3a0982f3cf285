"""The tables of one assessed source, as frames with units in their columns' names."""

from typing import TYPE_CHECKING

from lifetime.constants import SECONDS_PER_HOUR
from lifetime.results.records import SourceResult

if TYPE_CHECKING:
    import pandas as pd


def trajectory_frame(result: SourceResult) -> "pd.DataFrame":
    """Health over the service, one row a month.

    Args:
        result: The source.

    Returns:
        ``years``; ``capacity_fraction`` and ``resistance_ratio`` of the initial values (capacitance and ESR for an
        ultracapacitor); ``calendar_loss_fraction`` and ``cyclic_loss_fraction`` of the initial capacity.
    """
    import pandas as pd  # noqa: PLC0415 - slow import

    health = result.trajectory
    return pd.DataFrame(
        {
            "years": health.years,
            "capacity_fraction": health.capacity_fraction,
            "resistance_ratio": health.resistance_ratio,
            "calendar_loss_fraction": health.calendar_loss_fraction,
            "cyclic_loss_fraction": health.cyclic_loss_fraction,
        }
    )


def cycle_frame(result: SourceResult) -> "pd.DataFrame":
    """The cycles of the traced day at the beginning of life, the deepest first.

    Args:
        result: The source.

    Returns:
        ``depth_of_discharge`` and ``mean_soc`` [0..1] (charge over rated charge for an ultracapacitor), ``c_rate``
        (mean of both directions, weighted by charge) and ``charge_c_rate`` [1/h], ``count`` in the traced day,
        ``cycles_per_year`` and ``equivalent_full_cycles_per_year``.
    """
    import pandas as pd  # noqa: PLC0415 - slow import

    cycles, capacity_As = result.cycles, result.source.capacity_As
    depth = cycles.range_As / capacity_As
    frame = pd.DataFrame(
        {
            "depth_of_discharge": depth,
            "mean_soc": result.source.start_soc - cycles.mean_As / capacity_As,
            "c_rate": cycles.rate_A * SECONDS_PER_HOUR / capacity_As,
            "charge_c_rate": cycles.charge_rate_A * SECONDS_PER_HOUR / capacity_As,
            "count": cycles.count,
            "cycles_per_year": cycles.count * result.runs_per_year,
            "equivalent_full_cycles_per_year": cycles.count * depth * result.runs_per_year,
        }
    )
    return frame.sort_values("depth_of_discharge", ascending=False, ignore_index=True)
