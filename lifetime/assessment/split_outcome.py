"""What one way to split a demand comes to: the day's passes, the traced days and the lives."""

from dataclasses import dataclass

from lifetime.assessment.drivetrain_life import DrivetrainLife, bank_life, drivetrain_life
from lifetime.assessment.pair import beside_worn_bank
from lifetime.assessment.power_split import PowerSplit, battery_peak_W, battery_rms_W
from lifetime.assessment.setups import Drivetrain, StudySetup
from lifetime.assessment.traces import DrivetrainTraces, demand_traces
from lifetime.split.share import MeasuredTemperature, SharedPass


@dataclass(frozen=True, slots=True, eq=False)
class SplitOutcome:
    """A demand that was split, and what became of the sources.

    Args:
        drivetrain: The sources.
        passes: The day as split for a new bank.
        traces: The sources' traced days.
        life: Their lives and cost.
    """

    drivetrain: Drivetrain
    passes: list[SharedPass]
    traces: DrivetrainTraces
    life: DrivetrainLife

    @property
    def battery_rms_W(self) -> float:
        """Quadratic mean of the battery's power over the day [W]."""
        return battery_rms_W(self.passes)

    @property
    def battery_peak_W(self) -> float:
        """Largest magnitude of the battery's power over the day [W]."""
        return battery_peak_W(self.passes)

    @property
    def end_voltage_V(self) -> float:
        """Capacitor voltage when the day ends [V]."""
        return float(self.passes[-1].bank_V[-1])


def split_outcome(
    setup: StudySetup,
    drivetrain: Drivetrain,
    split: PowerSplit,
    temperature: MeasuredTemperature | None = None,
    *,
    first_limit_only: bool = False,
) -> SplitOutcome:
    """Split a demand and assess what follows.

    Args:
        setup: The study.
        drivetrain: Its sources, or the battery alone.
        split: Splits the demand's day.
        temperature: Of the battery, measured over one pass of the demand, or None.
        first_limit_only: Stop, after service, as soon as one limit of a source is reached.

    Raises:
        AssessmentError: The day does not fit into 24 h, or the split does not settle.
    """
    bank = drivetrain.ultracapacitor
    passes = split(None if bank is None else bank.bank)
    traces = demand_traces(drivetrain, split, passes, temperature, setup.operation.ambient_K)
    worn = bank_life(setup, drivetrain, traces, first_limit_only=first_limit_only)
    if worn is not None:
        traces = beside_worn_bank(drivetrain, split, passes, traces, worn, temperature, setup.operation.ambient_K)
    life = drivetrain_life(setup, drivetrain, traces, worn, first_limit_only=first_limit_only)
    return SplitOutcome(drivetrain, list(traces.passes), traces, life)
