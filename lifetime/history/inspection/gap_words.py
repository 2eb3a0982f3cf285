"""What flows within the gaps of a history, in words: how much if bridged, how much at rest, what flows beside them."""

from dataclasses import dataclass
from typing import Final, Literal

from lifetime.constants import JOULES_PER_KWH, SECONDS_PER_HOUR
from lifetime.history.inspection.step_charge import GapCharge
from lifetime.text import counted, significant

BRIDGE: Final = 'clean = ["bridge_gaps"]'
REST: Final = 'clean = ["rest_in_gaps"]'

_FEW: Final = 0.01
_SUMS: Final = {"current": ("charge", "Ah", SECONDS_PER_HOUR, "A"), "power": ("energy", "kWh", JOULES_PER_KWH, "W")}


@dataclass(frozen=True, slots=True)
class GapWords:
    """Sentences about the charge in gaps.

    Args:
        charge: What flows there.
        quantity: Whether it is a charge by current, or an energy by power.
        unit_SI: What one unit of the file is in SI; None where it is not known.
        directions: What positive and negative mean.
    """

    charge: GapCharge
    quantity: Literal["current", "power"]
    unit_SI: float | None
    directions: tuple[str, str]

    @property
    def beside(self) -> str:
        """What flows on both sides of gaps; empty where nothing surely does."""
        if not self.charge.flowing:
            return ""
        gaps = counted(self.charge.flowing, "gap")
        if self.unit_SI is None:
            return f" {self.quantity.capitalize()} flows on both sides of {gaps}."
        low, high = (significant(value * self.unit_SI) for value in (self.charge.smallest, self.charge.largest))
        unit = _SUMS[self.quantity][3]
        level = low if low == high else f"{low} to {high}"
        return f" {self.quantity.capitalize()} flows on both sides of {gaps}: {level} {unit}."

    @property
    def choices(self) -> str:
        """What bridging and what rest leave of the charge."""
        name, charge = _SUMS[self.quantity][0], self.charge
        if self.unit_SI is None:
            return f" Bridged, the gaps hold {significant(100 * charge.fraction)} % of the {name}; at rest, none."
        bridged = self._both(charge.positive + charge.positive_beside, charge.negative + charge.negative_beside)
        at_rest = self._both(charge.positive_beside, charge.negative_beside)
        return f" Bridged, the {name} is {bridged}; at rest in the gaps, {at_rest}."

    @property
    def within(self) -> str:
        """What the steps contain if values run through them, and how sure that is where it matters."""
        (name, unit, per, _), charge = _SUMS[self.quantity], self.charge
        if self.unit_SI is None:
            text = f"{significant(100 * charge.fraction)} % of the {name}"
        else:
            text = self._both(charge.positive, charge.negative)
        if charge.is_sure:
            return text
        sides = f"because {self.quantity} at the two sides differs"
        if self.unit_SI is None:
            return f"{text}, of which {significant(100 * charge.spread / charge.whole)} % is not sure, {sides}"
        return f"{text}, of which {significant(charge.spread * self.unit_SI / per)} {unit} is not sure, {sides}"

    @property
    def remedy(self) -> str:
        """Which cleaning to ask for."""
        if self.charge.is_flowing:
            return (
                f"Ask for {BRIDGE} if values may run through the gaps. Rest would delete "
                f"{significant(100 * self.charge.fraction)} % of the {_SUMS[self.quantity][0]} and is refused; where "
                "the source did rest, cut the file there and name both parts by a pattern."
            )
        choice = f"Ask for {REST} if the source rested, or {BRIDGE} if values may run through the gap"
        if self.charge.fraction > _FEW:
            return f"{choice}; the {_SUMS[self.quantity][0]} depends on it."
        return f"{choice}, as they do when a logger writes only on change."

    def _both(self, positive: float, negative: float) -> str:
        _, unit, per, _ = _SUMS[self.quantity]
        values = (significant(value * (self.unit_SI or 1.0) / per) for value in (positive, negative))
        return " and ".join(f"{value} {unit} {name}" for value, name in zip(values, self.directions, strict=True))
