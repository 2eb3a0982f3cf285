"""Whether a new source meets the requirement of its day, and which bounds may end its life."""

from dataclasses import dataclass, replace
from math import inf

from lifetime.assessment.notices.requirement import (
    bound_not_used,
    current_limit_passed,
    not_met_at_any_current,
    not_met_within_bounds,
    power_not_met,
    power_not_met_in_corner,
)
from lifetime.assessment.setups import SourceSetup
from lifetime.assessment.traces import DayTraces
from lifetime.notices import Notice
from lifetime.projection.duty import Duty
from lifetime.projection.limits import CHARGE_BOUNDS, Crossing, DutyMargin
from lifetime.projection.power_corner import CornerPower, PowerMargin
from lifetime.projection.years import Trajectory


@dataclass(frozen=True, slots=True, eq=False)
class Requirement:
    """The day that a source must get through, against its bounds.

    Args:
        margin: Distance to the bounds that may end its life.
        day_is_met: Whether the new source gets through its day.
        ends_life: Whether an aged source may fail to meet it.
        notices: What there is to say about it.
        breaks: Whether a new source breaks a limit on the currents given, which costs its strategy the rank.
        power: Its power against what is asked in the corner of the study; None where power does not end its life.
    """

    margin: DutyMargin
    day_is_met: bool
    ends_life: bool
    notices: tuple[Notice, ...] = ()
    breaks: bool = False
    power: PowerMargin | None = None

    @property
    def is_met(self) -> bool:
        """Whether the new source gets through its day and has the power asked in the corner."""
        return self.day_is_met and (self.power is None or self.power.is_met)

    def crossing(self, setup: SourceSetup, trajectory: Trajectory) -> Crossing | None:
        """When the requirement is no longer met; None where it cannot end the life.

        Args:
            setup: The source.
            trajectory: Its health by month.
        """
        if not self.day_is_met:
            smallest, bound = self.margin.smallest(1.0, 1.0)
            return Crossing("requirement", 0.0, bound if smallest <= 0.0 else "power")
        return self.margin.crossing(setup.model, trajectory) if self.ends_life else None


def requirement_of(setup: SourceSetup, traces: DayTraces, duty: Duty) -> Requirement:
    """Judge the day of a new source.

    Args:
        setup: The source.
        traces: Its traced days.
        duty: The year made of them.
    """
    judged = _with_power(setup, traces, _by_bounds(setup, traces, duty))
    excesses = traces.new.excesses
    if not excesses:
        return judged
    said = tuple(current_limit_passed(setup.kind, excess) for excess in excesses)
    return replace(judged, notices=(*judged.notices, *said), breaks=True)


def _with_power(setup: SourceSetup, traces: DayTraces, judged: Requirement) -> Requirement:
    """The same with the battery's power in the corner of the study."""
    corner, required_W = setup.power_corner, traces.new.pulse_W
    if corner is None or required_W is None:
        return judged
    most_A = inf
    if setup.load is not None:
        most_A = setup.load.at(corner.temperature_K).discharge.pulse_A(corner.duration_s, corner.soc)
    power = PowerMargin(corner, CornerPower.of(setup.source, corner, most_A), required_W)
    said = () if power.is_met else (power_not_met_in_corner(power),)
    return replace(judged, power=power, notices=(*judged.notices, *said))


def _by_bounds(setup: SourceSetup, traces: DayTraces, duty: Duty) -> Requirement:
    factor = float(duty.resistance_factors(1.0, 1.0).mean())
    feasible = traces.feasible
    # Charging that would pass a bound is not taken, so it ends no life.
    skip = frozenset[str]() if feasible is None else CHARGE_BOUNDS
    margin = DutyMargin(setup.source, duty, skip=skip, resistance_factor=factor)
    ends_life = not traces.within_bounds
    if feasible is not None and not feasible.serves_power:
        notice = power_not_met(setup.kind, feasible)
        return Requirement(margin, day_is_met=False, ends_life=ends_life, notices=(notice,))
    outside = {bound for bound, value in margin.by_bound(1.0, 1.0).items() if value <= 0.0}
    shortage = traces.new.drive.shortage
    if shortage > 0.0 and not outside:
        # Voltage bounds wider than half the open-circuit voltage do not catch a power that no current can deliver.
        notice = not_met_at_any_current(setup.kind, shortage)
        return Requirement(margin, day_is_met=False, ends_life=ends_life, notices=(notice,))
    if not outside or not ends_life:
        return Requirement(margin, day_is_met=True, ends_life=ends_life)
    if traces.power_driven or any("charge" in bound for bound in outside):
        notice = not_met_within_bounds(setup.kind, outside)
        return Requirement(margin, day_is_met=False, ends_life=ends_life, notices=(notice,))
    # A measured current shows that the source delivered; then it is our resistance or curve that does not fit.
    kept = DutyMargin(setup.source, duty, skip=frozenset(outside), resistance_factor=factor)
    margins = margin.by_bound(1.0, 1.0)
    notice = bound_not_used(setup.kind, {bound: -margins[bound] * setup.source.maximum_voltage_V for bound in outside})
    return Requirement(kept, day_is_met=True, ends_life=ends_life, notices=(notice,), breaks=True)
