"""The months in which a battery may be loaded with something else than at the year's mean temperature."""

from dataclasses import dataclass

import numpy as np

from lifetime.assessment.setups import SourceSetup
from lifetime.assessment.traced_states import typical_limits
from lifetime.checks import FloatArray
from lifetime.constants import MONTHS_PER_YEAR
from lifetime.packs.climate import hours_by_month, is_hourly, monthly_means_K
from lifetime.stress.current_limits import Ceiling, LoadLimits


@dataclass(frozen=True, slots=True, eq=False)
class LimitedMonths:
    """Months that share one set of limits.

    Args:
        months: The months, counted from 0.
        limits: What the battery may be loaded with in them, at their mean temperatures.
        ambient_K: Their ambient temperatures [K], shape (n,).
    """

    months: tuple[int, ...]
    limits: LoadLimits
    ambient_K: FloatArray


def limited_months(setup: SourceSetup, ambient_K: FloatArray) -> list[LimitedMonths]:
    """Months whose limits are not those of the year's mean temperature, those with the same limits together.

    Args:
        setup: The battery.
        ambient_K: Ambient temperature [K] by month, shape (12,), or by hour, shape (8760,).
    """
    typical = typical_limits(setup, ambient_K)
    if setup.load is None or typical is None:
        return []
    means_K = setup.source.around_K(monthly_means_K(ambient_K))
    by_month = [setup.load.at(float(mean)) for mean in means_K]
    groups: dict[tuple[float, ...], list[int]] = {}
    for month, limits in enumerate(by_month):
        if _currents(limits) != _currents(typical):
            groups.setdefault(_currents(limits), []).append(month)
    felt_K = hours_by_month(ambient_K) if is_hourly(ambient_K) else np.split(ambient_K, MONTHS_PER_YEAR)
    return [
        LimitedMonths(tuple(months), by_month[months[0]], np.concatenate([felt_K[month] for month in months]))
        for months in groups.values()
    ]


def _currents(limits: LoadLimits) -> tuple[float, ...]:
    """What of the limits goes with temperature."""

    def of(ceiling: Ceiling) -> tuple[float, ...]:
        return (ceiling.peak_A, *ceiling.mean_A)

    return (*of(limits.discharge), *of(limits.charge))
