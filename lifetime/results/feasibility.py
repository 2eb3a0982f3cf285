"""How much of a day's demand is served: the record, and how the document tells it."""

from dataclasses import asdict, dataclass
from typing import Final, Literal, Self

from lifetime.results.view import View

Condition = Literal["beginning_of_life", "end_of_life", "coldest_month"]

TOLERATED: Final = 1e-3
"""Share of the day's energy that may be missed before the work is another: 0.1 %, common practice, no source."""


@dataclass(frozen=True, slots=True)
class Feasibility:
    """How much of a day's demand is served in one condition.

    Args:
        condition: When.
        unserved_kWh: Traction that nobody serves [kWh per day], >= 0.
        unserved_s: How long any of it is missing [s per day].
        largest_gap_W: Largest gap [W].
        largest_gap_at_s: When it begins, from the start of the day [s].
        friction_kWh: Braking that neither source takes and the friction brakes do [kWh per day], >= 0.
        needed_kWh: Energy that the day draws from the battery before it is charged again [kWh].
        held_kWh: Energy that the battery's window holds then [kWh].
        traction_kWh: Traction that is asked for [kWh per day].
    """

    condition: Condition
    unserved_kWh: float
    unserved_s: float
    largest_gap_W: float
    largest_gap_at_s: float
    friction_kWh: float
    needed_kWh: float
    held_kWh: float
    traction_kWh: float

    @property
    def serves_power(self) -> bool:
        """Whether at most 0.1 % of the traction is missing."""
        return self.unserved_kWh <= TOLERATED * self.traction_kWh

    @property
    def friction_share(self) -> float:
        """Braking that neither source takes over the traction [1]; 1 where there is no traction."""
        return self.friction_kWh / self.traction_kWh if self.traction_kWh > 0.0 else float(self.friction_kWh > 0.0)

    @property
    def takes_braking(self) -> bool:
        """Whether the friction brakes do at most 0.1 % of the traction."""
        return self.friction_share <= TOLERATED

    @property
    def serves_energy(self) -> bool:
        """Whether the window holds what the day needs."""
        return self.needed_kWh <= self.held_kWh * (1.0 + 1e-9)

    @property
    def is_met(self) -> bool:
        """Whether power and energy are served."""
        return self.serves_power and self.serves_energy


class FeasibilityView(View):
    """How much of a day's demand is served in one condition; energies per day."""

    condition: Condition
    is_met: bool
    unserved_kWh: float
    unserved_s: float
    largest_gap_W: float
    largest_gap_at_s: float
    friction_kWh: float
    needed_kWh: float
    held_kWh: float
    traction_kWh: float

    @classmethod
    def of(cls, record: Feasibility) -> Self:
        """The condition as it is told.

        Args:
            record: What is served in it.
        """
        return cls(is_met=record.is_met, **asdict(record))
