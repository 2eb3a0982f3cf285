"""How much of the achievable reduction a strategy reaches: the record."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class ReferenceSplit:
    """How a strategy compares with the battery alone and the least-rms split, through the same converters.

    The least-rms split is named for what it minimises: rms power of the battery with a lossless bank of the same energy
    window, as empty at the day's end as the emptiest of the study's strategies. What bank, converters and windings lose
    on that path is then charged to it, so its rms power is no longer a strict bound. It minimises neither capacity
    loss, which also depends on more than power, nor cost: a strategy may come out above 1.

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
        reached_capacity_loss_fraction: The strategy's reduction of the battery's capacity loss over that of the
            least-rms split [1]; None where that has none.
        reached_cost_saving_fraction: The strategy's saving of cost over that of the least-rms split [1], which does not
            minimise cost; None where one of the three has no cost, or the least-rms split saves none.
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
