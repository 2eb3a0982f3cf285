"""What became of a stretch of power: its currents, and the voltages behind them."""

from dataclasses import dataclass

from lifetime.checks import FloatArray
from lifetime.stress.intervals import Intervals


@dataclass(frozen=True, slots=True, eq=False)
class Delivery:
    """A stretch of power as current.

    Args:
        run: Intervals with current [A] in place of power.
        shortage: Largest share by which a power exceeds what the source delivers at any current; 1 where it runs
            empty.
        inner_V: Open-circuit voltage less what the RC branches drop, at the intervals' ends [V], shape (n + 1,).
        at_once_ohm: Resistance that acts at once [Ω], one or one an interval.
        soc: State of charge at the intervals' ends, shape (n + 1,).
        asked_A: Currents that the power asks for at the intervals' starts and ends [A]; within limits those of ``run``.
    """

    run: Intervals
    shortage: float
    inner_V: FloatArray
    at_once_ohm: FloatArray | float
    soc: FloatArray
    asked_A: tuple[FloatArray, FloatArray]
