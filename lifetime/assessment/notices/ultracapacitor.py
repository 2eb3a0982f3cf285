"""What is said about an ultracapacitor bank: unequal cells, rated capacitance, currents, terminals, rest near 0 V."""

from typing import Final

import numpy as np

from lifetime.ageing.cell_spread import CellSpread
from lifetime.ageing.contract import Stress
from lifetime.ageing.ultracapacitor import UltracapacitorLaw
from lifetime.ageing.validity import percent, share_where
from lifetime.assessment.setups import UltracapacitorSetup
from lifetime.notices import Notice
from lifetime.stress.day import Day
from lifetime.text import significant

USUAL_DEVIATION: Final = 0.02
"""Spread that a study of a tram's bank assumed for cells of 3000 F."""
NEAR_ZERO: Final = 0.1
"""Share of the rated voltage below which a cell counts as stored near 0 V; common practice, no source."""
LEAST_TIME: Final = 0.01
"""Share of the time near 0 V that is worth a warning; common practice, no source."""
_PLACES: Final = {
    "top": "the highest voltage",
    "half": "half the rated voltage",
    "bottom": "the lowest voltage or nowhere",
}


def bank_notices(setup: UltracapacitorSetup, day: Day, stress: Stress) -> list[Notice]:
    """Notes and warnings that only an ultracapacitor bank has.

    Args:
        setup: The bank.
        day: Traced at the beginning of life.
        stress: Of the average day then.
    """
    return [
        *_cell_spread(setup),
        _capacitance_basis(setup),
        *_currents(setup, day, float(np.max(stress.rms_current_A))),
        *_terminals(setup, day),
        *_near_zero(setup, stress),
    ]


def _cell_spread(setup: UltracapacitorSetup) -> list[Notice]:
    model, source = setup.model, setup.source
    cells = source.series * source.parallel
    if not isinstance(model, UltracapacitorLaw) or cells == 1:
        return []
    top_V = source.maximum_voltage_V / source.series
    if model.spread is None:
        spread = CellSpread(USUAL_DEVIATION, cells, "bottom", 0.5 * setup.cell.maximum_voltage_V)
        message = (
            f"All {cells} cells of the bank are taken as equal (ultracapacitor.capacitance_deviation_fraction = 0). "
            f"With a spread of {percent(USUAL_DEVIATION)} and without balancing, the weakest cell would have "
            f"{1000.0 * _above_mean_V(spread, top_V):.3g} mV more than the mean at {top_V:.3g} V, and "
            f"{_life_factor(model, spread, top_V):.3g} times its life there."
        )
        return [Notice("ultracapacitor_cells_equal", message, "note")]
    spread = model.spread
    begins = (
        f"Capacitance spreads by {percent(spread.deviation)} over {cells} cells, balanced at "
        f"{_PLACES[spread.balancing]}: "
    )
    if spread.balancing == "top":
        low_V = source.minimum_voltage_V / source.series
        smallest_V = low_V - spread.worst_fraction * (top_V - low_V)
        message = (
            f"{begins}no cell ages faster than the mean. The smallest cell swings lowest, to {smallest_V:.3g} V where "
            f"the mean has {low_V:.3g} V: usable energy ends when it reaches its own lowest voltage."
        )
    else:
        message = (
            f"{begins}the bank ages as its weakest cell, which has {1000.0 * _above_mean_V(spread, top_V):.3g} mV more "
            f"than the mean at {top_V:.3g} V, and {_life_factor(model, spread, top_V):.3g} times its life there."
        )
    return [Notice("ultracapacitor_weakest_cell", message, "note")]


def _above_mean_V(spread: CellSpread, mean_V: float) -> float:
    return float(spread.worst_V(np.array(mean_V))) - mean_V


def _life_factor(model: UltracapacitorLaw, spread: CellSpread, mean_V: float) -> float:
    """Life of the weakest cell over that of the mean cell, held at the mean's voltage; temperature cancels."""
    at = np.array([mean_V]), np.array([model.reference_temperature_K])
    worst = spread.worst_V(at[0])
    return float((model.damage_rate_per_s(*at) / model.damage_rate_per_s(worst, at[1]))[0])


def _capacitance_basis(setup: UltracapacitorSetup) -> Notice:
    surplus, end = setup.initial_surplus_fraction, setup.limits.capacity_fraction
    begins = f"End of life is at {percent(end * (1.0 + surplus))} of the rated capacitance. "
    if surplus > 0.0:
        message = (
            f"{begins}New cells have {percent(surplus)} more than that, so {percent(1.0 - end)} of the initial "
            "capacitance is lost until then; state of health is that of the initial one. ESR, counted from its own "
            "initial value, may end the life before."
        )
    else:
        message = (
            f"{begins}New cells are taken to have just that; makers deliver 5 to 12 % more on average "
            "(ultracapacitor.initial_surplus_fraction)."
        )
    return Notice("ultracapacitor_capacitance_basis", message, "note")


def _currents(setup: UltracapacitorSetup, day: Day, rms_A: float) -> list[Notice]:
    """Compare each current with the rating of its own duration; both are those of one cell."""
    cell, notices = setup.cell, []
    peak_A = day.drive.peak_A / setup.source.parallel
    remedy = "Add strings in parallel, or lower ultracapacitor.maximum_current_A."
    if cell.maximum_current_A is not None and peak_A > cell.maximum_current_A:
        notices.append(
            Notice(
                "ultracapacitor_peak_current",
                f"The peak current of the ultracapacitor bank is {significant(peak_A)} A per cell, above the "
                f"{significant(cell.maximum_current_A)} A that its cells are rated for during 1 s. {remedy}",
            )
        )
    if cell.continuous_current_A is not None and rms_A > cell.continuous_current_A:
        notices.append(
            Notice(
                "ultracapacitor_continuous_current",
                f"The rms current of the ultracapacitor bank while it is loaded is {significant(rms_A)} A per cell, "
                f"above the {significant(cell.continuous_current_A)} A that its cells are rated for continuously; the "
                f"peak rating holds for 1 s only.{_self_heating(setup, rms_A)} {remedy}",
            )
        )
    return notices


def _self_heating(setup: UltracapacitorSetup, rms_A: float) -> str:
    cell = setup.cell
    if cell.thermal_resistance_K_per_W is None:
        return ""
    rise_K = rms_A**2 * cell.resistance_ohm * cell.thermal_resistance_K_per_W
    return f" A single cell in free air would warm by {significant(rise_K)} K."


def _terminals(setup: UltracapacitorSetup, day: Day) -> list[Notice]:
    """Where the terminals stand above the inner voltage that ages a cell, and above what its maker allows at all."""
    source, level, cell = setup.source, day.drive.envelope, setup.cell
    charge_As = np.maximum(level.charge_low_As, day.drive.lowest_As)
    inner_V = source.open_circuit_V(source.start_soc - charge_As / source.capacity_As)
    drop_V = source.resistance_ohm * level.lowest_A
    worn = setup.limits.resistance_ratio
    new_V, worn_V = (float(np.max(inner_V - ratio * drop_V)) / source.series for ratio in (1.0, worn))
    highest_V, absolute_V = source.maximum_voltage_V / source.series, cell.absolute_maximum_voltage_V
    if worn_V <= highest_V:
        return []
    message = (
        f"Ageing follows the inner voltage of the cells. Charging adds the drop in ESR: the terminals of a cell reach "
        f"{new_V:.4g} V at the beginning of life and {worn_V:.4g} V at {worn:.3g} times the ESR; the window ends "
        f"at {highest_V:.4g} V."
    )
    if absolute_V is None or worn_V <= absolute_V:
        return [Notice("ultracapacitor_terminal_voltage", message, "note")]
    limit = f" The maker allows {absolute_V:.4g} V at most: lower ultracapacitor.maximum_voltage_V as ESR grows."
    return [Notice("ultracapacitor_above_absolute_voltage", message + limit)]


def _near_zero(setup: UltracapacitorSetup, stress: Stress) -> list[Notice]:
    limit_V = NEAR_ZERO * setup.cell.maximum_voltage_V
    share = share_where(stress.voltage_V < limit_V, stress.duration_s)
    if share < LEAST_TIME:
        return []
    return [
        Notice(
            "ultracapacitor_stored_near_zero",
            f"{percent(share)} of the time the ultracapacitor bank has less than {limit_V:.3g} V per cell, where the "
            "ageing model sees the longest life. In one published test, cells stored at about 0 V and high temperature "
            "kept their capacitance, and their ESR rose more than fourfold: the life may be far shorter. Raise "
            "ultracapacitor.rest_voltage_V, or ask the maker.",
        )
    ]
