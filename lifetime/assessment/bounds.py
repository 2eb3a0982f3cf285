"""How little power the battery could be left with: for each demand of a study, without and with the bank's losses."""

from dataclasses import dataclass
from math import isfinite
from typing import Final

from lifetime.assessment.least_rms import least_rms_day
from lifetime.assessment.power_split import battery_peak_W, battery_rms_W
from lifetime.assessment.resolution import resolve_setups
from lifetime.assessment.setups import StudySetup, UltracapacitorSetup
from lifetime.errors import AssessmentError
from lifetime.history.spec import HistoryInput
from lifetime.split.bank import Bank
from lifetime.split.best.programme import BankLimits, least_rms
from lifetime.split.best.taut_string import EnergyWindow
from lifetime.split.share import SharedPass
from lifetime.study.load import LoadedStudy

MOST_INTERVALS: Final = 20_000
"""The convex programme takes seconds up to here; longer demands have the taut string's bound alone."""


@dataclass(frozen=True, slots=True)
class Bound:
    """What is left to the battery on one demand, over a working day.

    Args:
        demand: Name of the demand's file.
        alone_rms_W: Quadratic mean with the battery alone [W].
        alone_peak_W: Largest magnitude with the battery alone [W].
        best_rms_W: Quadratic mean with a lossless bank of unlimited power [W].
        best_peak_W: Largest magnitude then [W].
        with_losses_rms_W: Quadratic mean with the bank's current limit and resistance [W]; None where it is left out.
        with_losses_wasted_J: Energy that this bound throws away [J], which a bank cannot; near 0 the bound can be
            reached. None where the other is.
        with_losses_left_out: Why the two are None, as a sentence; None where they are not.
    """

    demand: str
    alone_rms_W: float
    alone_peak_W: float
    best_rms_W: float
    best_peak_W: float
    with_losses_rms_W: float | None
    with_losses_wasted_J: float | None
    with_losses_left_out: str | None


def bounds(loaded: LoadedStudy, *, with_losses: bool) -> list[Bound]:
    """Find the bounds of every demand, for a bank that ends the day as full as it began.

    Args:
        loaded: The study with everything it names.
        with_losses: Also solve the convex programme.

    Raises:
        AssessmentError: The study has no bank, or no strategy has a demand.
        ConvergenceError: The programme finds no answer.
        MissingPackageError: Its modelling library is not installed.
    """
    setup = resolve_setups(loaded)
    bank = setup.drivetrain.ultracapacitor
    demands = (strategy.demand for strategy in loaded.study.strategy)
    specs = list(dict.fromkeys(spec for spec in demands if spec is not None))
    if bank is None or not specs:
        raise AssessmentError("A bound needs the section [ultracapacitor] and a strategy with a demand.")
    return [_bound(setup, bank, spec, with_losses=with_losses) for spec in specs]


def _bound(setup: StudySetup, ultracapacitor: UltracapacitorSetup, spec: HistoryInput, *, with_losses: bool) -> Bound:
    bank, start_V = ultracapacitor.bank, ultracapacitor.start_voltage_V
    day = least_rms_day(setup.demands.of(spec), bank, (start_V, start_V), setup.operation.drive_repeats)
    alone = [SharedPass(day[0].length_s, day[0].battery_W + day[0].bank_W, day[0].bank_W, day[0].bank_A, day[0].bank_V)]
    moves = day[0].length_s > 0.0
    left_out = _left_out(int(moves.sum()), bank, with_losses=with_losses)
    tight = None
    if left_out is None:
        energies = (bank.minimum_voltage_V, bank.maximum_voltage_V, start_V, start_V)
        # The terminals of a full bank stand highest while it is charged with all the current it takes.
        terminal_V = bank.maximum_voltage_V + bank.resistance_ohm * bank.maximum_current_A
        limits = BankLimits(power_W=bank.maximum_current_A * terminal_V, loss_per_W=bank.resistance_ohm / terminal_V**2)
        window = EnergyWindow(*(bank.energy_J(volts) for volts in energies))
        tight = least_rms(day[0].length_s[moves], alone[0].battery_W[moves], window, limits)
    return Bound(
        spec.file,
        battery_rms_W(alone),
        battery_peak_W(alone),
        battery_rms_W(day),
        battery_peak_W(day),
        None if tight is None else tight.rms_W,
        None if tight is None else tight.thrown_away_J,
        left_out,
    )


def _left_out(intervals: int, bank: Bank, *, with_losses: bool) -> str | None:
    """Why there is no bound with losses; None where there is one."""
    if not with_losses:
        return "A bound that knows the bank's losses needs another package: pip install 'packwear[design]'"
    if intervals > MOST_INTERVALS:
        return (
            f"No bound with losses: the demand has {intervals:,} intervals, and it is found for {MOST_INTERVALS:,} at "
            "most. Average the demand over longer steps, or give a shorter stretch of it."
        )
    if not isfinite(bank.maximum_current_A):
        return "No bound with losses: neither the study nor the cell's parameter set limits the bank's current."
    return None
