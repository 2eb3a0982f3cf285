"""What stands between the two sources and the machine, and what is lost in it: the same for a rule and its references.

Two sources meet at the machine's shaft, each with an inverter and a winding set of its own, or on a DC link, from which
one inverter feeds both winding sets alike. What is lost beyond that place belongs to neither source: it is part of what
they are asked for together.
"""

from dataclasses import dataclass, replace

import numpy as np

from lifetime.checks import FloatArray
from lifetime.split.bank import BankPath
from lifetime.split.losses import NO_LOSS, Loss
from lifetime.split.share import Demand, SharedPass
from lifetime.split.windings import TwoWindings, with_copper, without_copper


@dataclass(frozen=True, slots=True)
class Side:
    """From one source to where the two meet.

    Args:
        converter: Its converter or inverter.
        copper_per_W: Loss of its own winding set over the square of its power [1/W], >= 0; 0 where it has none.
    """

    converter: Loss
    copper_per_W: float = 0.0

    @property
    def is_none(self) -> bool:
        """True where nothing is lost."""
        return self.converter.is_none and self.copper_per_W == 0.0

    def at_source(self, met_W: FloatArray) -> FloatArray:
        """Power at the source's terminals for a power where the two meet [W].

        Args:
            met_W: Positive towards the machine [W], any shape.
        """
        return self.converter.at_source(with_copper(met_W, self.copper_per_W))

    def where_met(self, source_W: FloatArray) -> FloatArray:
        """Power where the two meet for a power at the source's terminals [W]; undoes ``at_source``.

        Args:
            source_W: Positive when the source discharges [W], any shape.
        """
        return without_copper(self.converter.at_machine(source_W), self.copper_per_W)


@dataclass(frozen=True, slots=True)
class Converters:
    """Converters and inverters of a drivetrain.

    Args:
        battery: Between the battery and where the two sources meet.
        ultracapacitor: Between the bank and there.
        inverter: Between a DC link and the machine; no loss where there is no common link.
        own_windings: Whether each source feeds a winding set of its own; else both sets share the torque evenly.
    """

    battery: Loss = NO_LOSS
    ultracapacitor: Loss = NO_LOSS
    inverter: Loss = NO_LOSS
    own_windings: bool = False

    @property
    def is_none(self) -> bool:
        """True where no converter or inverter loses anything."""
        return self.battery.is_none and self.ultracapacitor.is_none and self.inverter.is_none

    def battery_side(self, windings: TwoWindings | None) -> Side:
        """From the battery to where the two meet.

        Args:
            windings: Of the machine, or None.
        """
        copper_per_W = windings.battery_per_W if windings is not None and self.own_windings else 0.0
        return Side(self.battery, copper_per_W)

    def ultracapacitor_side(self, windings: TwoWindings | None) -> Side:
        """From the bank to where the two meet.

        Args:
            windings: Of the machine, or None.
        """
        copper_per_W = windings.ultracapacitor_per_W if windings is not None and self.own_windings else 0.0
        return Side(self.ultracapacitor, copper_per_W)

    def where_met(self, demand: Demand) -> Demand:
        """The demand where the two sources meet: at the shaft, or on the DC link before inverter and windings.

        Args:
            demand: At the machine.
        """
        if self.own_windings:
            return demand
        return replace(demand, power_W=self._on_link(demand))

    def shared(self, demand: Demand, path: BankPath) -> SharedPass:
        """What a bank's path leaves to the battery.

        Args:
            demand: At the machine.
            path: What the bank did.
        """
        from_bank = self.ultracapacitor_side(demand.windings).where_met(path.power_W)
        battery_W = self.battery_side(demand.windings).at_source(self.where_met(demand).power_W - from_bank)
        return SharedPass(
            length_s=demand.length_s,
            battery_W=battery_W,
            bank_W=path.power_W,
            bank_A=path.current_A,
            bank_V=path.voltage_V,
            lost_W=self.lost_W(demand, battery_W + path.power_W),
        )

    def alone(self, demand: Demand, voltage_V: float) -> SharedPass:
        """The battery with the whole demand, through its own converters; it feeds both winding sets alike.

        Args:
            demand: At the machine.
            voltage_V: At which an idle bank stays [V]; 0 without one.
        """
        n = demand.length_s.size
        idle = np.zeros(n)
        battery_W = self.battery.at_source(self._on_link(demand))
        lost_W = self.lost_W(demand, battery_W)
        return SharedPass(demand.length_s, battery_W, idle, idle, np.full(n + 1, voltage_V), lost_W=lost_W)

    def without_bank(self) -> "Converters":
        """What is left of them where there is no bank."""
        return Converters(battery=self.battery, inverter=self.inverter)

    def seen_by(self, demand: Demand) -> "Converters":
        """The same in the one form that all have which lose the same: winding sets only count where they lose.

        Args:
            demand: The demand, with the machine's windings.
        """
        return self if demand.windings is not None else replace(self, own_windings=False)

    def lost_W(self, demand: Demand, terminals_W: FloatArray) -> FloatArray | None:
        """Power lost on the way from both sources' terminals to the machine [W]; None where nothing is lost.

        Args:
            demand: At the machine.
            terminals_W: Sum of both sources [W], shape (n,).
        """
        return None if self.is_none and demand.windings is None else terminals_W - demand.power_W

    def _on_link(self, demand: Demand) -> FloatArray:
        power = demand.power_W
        if demand.windings is not None:
            power = power + demand.windings.even_W(power)
        return power if self.inverter.is_none else self.inverter.at_source(power)


NO_CONVERTERS = Converters()
