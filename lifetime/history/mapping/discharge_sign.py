"""The sign of discharge in a file, as far as voltage and state of charge show it."""

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from lifetime.checks import FloatArray
from lifetime.history.block import finite_rows

Sign = Literal["positive", "negative"]

_CLEAR_CORRELATION: Final = 0.2
_CLEAR_CHANGE: Final = 0.02


@dataclass(frozen=True, slots=True)
class DischargeSign:
    """What voltage and state of charge say about the sign of discharge.

    Args:
        by_voltage: Sign at which the voltage falls when the current grows; None where it does not show.
        by_soc: Sign at which the state of charge falls while charge flows; None where it does not show.
        agree: True or False where both show, None otherwise.
        sign: The sign both or the only one show; None where nothing shows or they disagree.
        message: The same in words.
    """

    by_voltage: Sign | None
    by_soc: Sign | None
    agree: bool | None
    sign: Sign | None
    message: str


class SignEvidence:
    """Sums over a stream from which the sign of discharge is read off; fixed memory."""

    def __init__(self) -> None:
        self._products = np.zeros(3)  # of steps in current and voltage: with each other, and each with itself
        self._charge = 0.0
        self._socs: list[float] = []
        self._largest_soc = 0.0

    def add(self, time: FloatArray, current: FloatArray, voltage: FloatArray | None, soc: FloatArray | None) -> None:
        """Add a stretch; rows with a missing value are left out.

        Args:
            time: In any unit.
            current: In any unit.
            voltage: In any unit, or None.
            soc: In any unit, or None.
        """
        if voltage is not None:
            known_i, known_v = finite_rows(current, voltage)
            with np.errstate(all="ignore"):  # numbers too large to square show nothing
                steps_i, steps_v = np.diff(known_i), np.diff(known_v)
                self._products += [np.sum(steps_i * steps_v), np.sum(steps_i * steps_i), np.sum(steps_v * steps_v)]
        if soc is not None:
            fine = np.isfinite(current) & np.isfinite(soc) & np.isfinite(time)
            if np.count_nonzero(fine) < 2:
                return
            with np.errstate(all="ignore"):
                self._charge += float(np.trapezoid(current[fine], time[fine]))
            known = soc[fine]
            self._socs = [self._socs[0] if self._socs else float(known[0]), float(known[-1])]
            self._largest_soc = max(self._largest_soc, float(np.abs(known).max()))

    def sign(self) -> DischargeSign:
        """Read the sign off the sums."""
        by_voltage = self._by_voltage()
        by_soc = self._by_soc()
        agree = None if by_voltage is None or by_soc is None else by_voltage == by_soc
        sign = None if agree is False else by_voltage or by_soc
        if agree is False:
            message = (
                f"the voltage shows a {by_voltage} current while discharging, the state of charge a {by_soc} one; "
                "check that the columns belong to one source"
            )
        elif sign is None:
            message = "neither voltage nor state of charge shows the sign of discharge"
        else:
            evidence = "the state of charge shows" if by_voltage is None else "the voltage shows"
            if agree:
                evidence = "voltage and state of charge both show"
            message = f"{evidence} that the current is {sign} while discharging"
        return DischargeSign(by_voltage, by_soc, agree, sign, message)

    def _by_voltage(self) -> Sign | None:
        together, of_current, of_voltage = self._products.tolist()
        scale = (of_current * of_voltage) ** 0.5
        if scale == 0.0 or not np.isfinite(scale) or abs(together) < _CLEAR_CORRELATION * scale:
            return None
        return "positive" if together < 0.0 else "negative"

    def _by_soc(self) -> Sign | None:
        if len(self._socs) < 2 or self._charge == 0.0 or not np.isfinite(self._charge):
            return None
        change = self._socs[1] - self._socs[0]
        if abs(change) < _CLEAR_CHANGE * self._largest_soc:
            return None
        return "positive" if change * self._charge < 0.0 else "negative"
