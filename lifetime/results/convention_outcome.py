"""What a strategy comes to under one convention of counting."""

from dataclasses import dataclass

from lifetime.stress.counting import CycleRate, SmallCycles


@dataclass(frozen=True, slots=True)
class ConventionOutcome:
    """What a strategy comes to under one convention of counting.

    Args:
        small_cycles: How small cycles are weighed.
        cycle_rate: What the C-rate of a cycle is.
        battery_life_years: Life of the battery [years]; None beyond the search.
        net_present_cost: Net present cost with it [currency]; None where there is none.
    """

    small_cycles: SmallCycles
    cycle_rate: CycleRate
    battery_life_years: float | None
    net_present_cost: float | None
