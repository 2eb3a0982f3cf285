"""How much of what could be gained a strategy gains."""

from typing import Final

NOTHING_TO_GAIN: Final = 1e-9
"""Share of the battery-alone figure below which there is nothing to gain."""


def achieved_share(alone: float, this: float, best: float) -> float | None:
    """Share of the possible gain: ``(alone - this) / (alone - best)``.

    Args:
        alone: Wear or cost with the battery alone.
        this: That of the strategy.
        best: That of the best possible split.

    Returns:
        1 for as good as the best, 0 for no gain, below 0 for a loss; None where the best gains nothing.
    """
    possible = alone - best
    if possible <= NOTHING_TO_GAIN * abs(alone):
        return None
    return (alone - this) / possible
