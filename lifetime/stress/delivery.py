"""What became of a stretch of power: its currents, and the voltages behind them."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

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
        slow_A: What the RC branches drop at the intervals' ends over the stated resistance [A], shape (n + 1,).
        asked_A: Currents that the power asks for at the intervals' starts and ends [A]; within limits those of ``run``.
    """

    run: Intervals
    shortage: float
    inner_V: FloatArray
    at_once_ohm: FloatArray | float
    soc: FloatArray
    slow_A: FloatArray
    asked_A: tuple[FloatArray, FloatArray]

    @classmethod
    def joined(cls, parts: Sequence["Delivery"]) -> "Delivery":
        """Stretches that follow each other as one.

        Args:
            parts: The stretches, at least one.
        """
        if len(parts) == 1:
            return parts[0]
        left, right, length = (
            np.concatenate([getattr(part.run, name) for part in parts]) for name in ("left", "right", "length_s")
        )
        *before, last = parts
        return cls(
            replace(parts[0].run, left=left, right=right, length_s=length),
            max(part.shortage for part in parts),
            np.concatenate([*(part.inner_V[:-1] for part in before), last.inner_V]),
            np.concatenate([np.broadcast_to(part.at_once_ohm, part.run.length_s.shape) for part in parts]),
            np.concatenate([*(part.soc[:-1] for part in before), last.soc]),
            np.concatenate([*(part.slow_A[:-1] for part in before), last.slow_A]),
            (
                np.concatenate([part.asked_A[0] for part in parts]),
                np.concatenate([part.asked_A[1] for part in parts]),
            ),
        )
