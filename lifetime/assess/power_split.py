"""A day's demand split between battery and ultracapacitor bank, and what the split leaves to the battery."""

from collections.abc import Callable

import numpy as np

from lifetime.split.bank import Bank
from lifetime.split.share import SharedPass

PowerSplit = Callable[[Bank | None], list[SharedPass]]
"""Splits a day's demand between the battery and a bank of any health; None for a battery alone."""


def battery_rms_W(passes: list[SharedPass]) -> float:
    """Quadratic mean of the battery's power over a day [W].

    Args:
        passes: The day's passes.
    """
    energy = sum(float(np.sum(drive.battery_W**2 * drive.length_s)) for drive in passes)
    return float(np.sqrt(energy / sum(float(np.sum(drive.length_s)) for drive in passes)))


def battery_peak_W(passes: list[SharedPass]) -> float:
    """Largest magnitude of the battery's power over a day [W].

    Args:
        passes: The day's passes.
    """
    return max(float(np.max(np.abs(drive.battery_W), initial=0.0)) for drive in passes)
