"""How much of the achievable reduction a strategy reaches: the record."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class ReferenceSplit:
    """How much of the achievable reduction a strategy reaches.

    The reference is the least-rms split: a lossless bank with the same energy window, as empty at the day's end as the
    emptiest of the study's strategies. No split has less rms power, peak power or throughput. The battery's capacity
    loss at service end also depends on more than power, so a strategy may come out a little above 1.

    Args:
        battery_rms_W: Quadratic mean of the battery's power over the day [W].
        battery_peak_W: Its largest magnitude [W].
        alone_rms_W: The same with the battery alone [W].
        alone_peak_W: The same [W].
        reference_rms_W: The same with the least-rms split [W].
        reference_peak_W: The same [W].
        alone_net_present_cost: Net present cost with the battery alone [currency]; None where there is none.
        alone_no_cost_reason: Why there is none; None where there is one.
        ultracapacitor_break_even_price: Price of the whole bank at which the strategy costs as much as the battery
            alone [currency]; None where there is none.
        reference_life_years: Life of the battery with the least-rms split [years]; None beyond the search limit.
        reference_net_present_cost: Net present cost then [currency]; None where even then there is none.
        reference_no_cost_reason: Why there is none; None where there is one.
        reached_capacity_loss_fraction: Share of the achievable reduction of the battery's capacity loss that the
            strategy reaches [0..1]; None where nothing is achievable.
        reached_cost_saving_fraction: Share of the achievable reduction of cost [0..1]; None where one of the three has
            no cost, or the least-rms split saves none.
    """

    battery_rms_W: float
    battery_peak_W: float
    alone_rms_W: float
    alone_peak_W: float
    reference_rms_W: float
    reference_peak_W: float
    alone_net_present_cost: float | None
    alone_no_cost_reason: str | None
    ultracapacitor_break_even_price: float | None
    reference_life_years: float | None
    reference_net_present_cost: float | None
    reference_no_cost_reason: str | None
    reached_capacity_loss_fraction: float | None
    reached_cost_saving_fraction: float | None
