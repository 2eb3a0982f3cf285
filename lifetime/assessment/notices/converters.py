"""What is said where only some strategies of a study pay losses between the sources and the machine."""

from collections.abc import Sequence

from lifetime.notices import Notice
from lifetime.study.schema import Strategy


def unlike_losses_notices(strategies: Sequence[Strategy]) -> list[Notice]:
    """Warn where some strategies pay losses on the way to the machine and others none.

    Args:
        strategies: Of one study.
    """
    split = [(one.name, one.split.converters) for one in strategies if one.split is not None]
    without = [name for name, converters in split if converters.is_none]
    if not without or len(without) == len(split):
        return []
    names = ", ".join(f'"{name}"' for name in without)
    return [
        Notice(
            "losses_not_alike",
            f"Strategies are compared at the machine, but some pay losses of converters and inverters and {names} "
            "none. Give each the losses of what it has: battery_loss, ultracapacitor_loss or inverter_loss in split.",
        )
    ]
