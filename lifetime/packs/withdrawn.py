"""Parameter sets that were shipped once and that no new study may name; records made with them stay readable."""

from collections.abc import Mapping, Sequence
from typing import Final

from lifetime.errors import ProfileError

WITHDRAWN: Final[Mapping[str, str]] = {
    "nmc_ev_scaled": (
        "it was nmc_schmalstieg_2014 times two factors that one published code fitted to a single vehicle cell, and "
        "lives of 22 NMC811 cells that the fit never saw came out 1.5 to 1.7 times too long"
    ),
}
"""By id the reason, as a clause."""


def refuse_withdrawn(name: str, shipped: Sequence[str]) -> None:
    """Refuse a set that is withdrawn, and say which there are.

    Args:
        name: What a study names.
        shipped: Ids of the sets that it may name instead.

    Raises:
        ProfileError: The set is withdrawn.
    """
    if name in WITHDRAWN:
        raise ProfileError(
            f'"{name}" is withdrawn: {WITHDRAWN[name]}. Name another set ({", ".join(shipped)}), or the file of your '
            "own cell."
        )
