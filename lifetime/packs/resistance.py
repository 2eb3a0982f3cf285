"""How a cell's resistance depends on the length of a pulse, the state of charge and the temperature."""

from dataclasses import dataclass
from typing import Final

import numpy as np

from lifetime.checks import FloatArray, as_floats
from lifetime.constants import GAS_CONSTANT_J_PER_MOL_K
from lifetime.errors import NumberError

REFERENCE_K: Final = 298.15
"""Temperature at which a resistance is stated: 25 °C."""


@dataclass(frozen=True, slots=True)
class Branch:
    """A resistance with a capacitance beside it, which takes time to build up its voltage.

    Args:
        fraction: Its resistance over the cell's stated resistance [1], > 0.
        time_constant_s: Resistance times capacitance [s], > 0.
    """

    fraction: float
    time_constant_s: float


@dataclass(frozen=True, slots=True)
class ResistanceShape:
    """A resistance relative to its stated value, which is that of a pulse of 10 s at 25 °C and mid state of charge.

    ``R(T, s, t) = R_stated r(s) f(T) (ohmic + sum fraction_i (1 - exp(-t / tau_i)))`` with
    ``f(T) = (1 - w) exp[Ea/R (1/T - 1/298.15 K)] + w exp[Eb/R (1/T - 1/298.15 K)]``.

    Args:
        ohmic_fraction: What acts at once [1], >= 0.
        branches: What builds up with time.
        activation_J_per_mol: Activation energy [J/mol], >= 0; 0 for a resistance that knows no temperature.
        second_fraction: Share w of a second Arrhenius term at 25 °C [0..1]; 0 for one term.
        second_activation_J_per_mol: Activation energy of the second term [J/mol], >= 0.
        soc: States of charge of the curve r(s) [0..1], rising.
        soc_factor: Factor there [1], > 0; straight between, held beyond the ends.

    Raises:
        NumberError: A number is out of its range, or the curve's points do not fit together.

    Source:
        Equivalent circuit with RC branches and an Arrhenius factor; any textbook on battery management.
    """

    ohmic_fraction: float = 1.0
    branches: tuple[Branch, ...] = ()
    activation_J_per_mol: float = 0.0
    soc: tuple[float, ...] = (0.0, 1.0)
    soc_factor: tuple[float, ...] = (1.0, 1.0)
    second_fraction: float = 0.0
    second_activation_J_per_mol: float = 0.0

    def __post_init__(self) -> None:
        """Refuse what cannot be."""
        soc, factor = as_floats(self.soc, "soc of the resistance [1]"), as_floats(self.soc_factor, "soc_factor [1]")
        if soc.shape != factor.shape or soc.size < 1 or not (np.diff(soc) > 0.0).all() or not (factor > 0.0).all():
            raise NumberError("Resistance over state of charge: expected rising soc, and a factor above 0 for each.")
        parts = [value for branch in self.branches for value in (branch.fraction, branch.time_constant_s)]
        lowest = min(self.ohmic_fraction, self.activation_J_per_mol, self.second_activation_J_per_mol)
        if lowest < 0.0 or min(parts, default=1.0) <= 0.0 or not 0.0 <= self.second_fraction <= 1.0:
            raise NumberError(
                "Resistance: the ohmic part and activation energies must be 0 or more, each branch above 0, the second "
                "term's share between 0 and 1."
            )

    @property
    def varies_with_temperature(self) -> bool:
        """True where temperature matters."""
        second = self.second_fraction > 0.0 and self.second_activation_J_per_mol > 0.0
        return second or (self.activation_J_per_mol > 0.0 and self.second_fraction < 1.0)

    @property
    def is_flat(self) -> bool:
        """True where the state of charge does not matter."""
        return all(factor == 1.0 for factor in self.soc_factor)

    @property
    def is_single(self) -> bool:
        """True where one number is the whole resistance at a temperature."""
        return self.is_flat and not self.branches and self.ohmic_fraction == 1.0

    @property
    def steady_fraction(self) -> float:
        """Resistance to a current held for long, over the stated one [1]."""
        return self.ohmic_fraction + sum(branch.fraction for branch in self.branches)

    def at_soc(self, soc: FloatArray) -> FloatArray:
        """Factor r(s) [1].

        Args:
            soc: State of charge [0..1], any shape.
        """
        return np.asarray(np.interp(soc, self.soc, self.soc_factor))

    def at_temperature(self, temperature_K: FloatArray) -> FloatArray:
        """Factor of the temperature [1]; 1 at 25 °C.

        Args:
            temperature_K: Mean temperature of the cells [K], > 0, any shape.
        """
        return np.asarray(sum(self._terms(temperature_K)))

    def activation_at(self, temperature_K: FloatArray) -> FloatArray:
        """Activation energy that the factor of the temperature has at a temperature [J/mol].

        Args:
            temperature_K: Mean temperature of the cells [K], > 0, any shape.
        """
        first, second = self._terms(temperature_K)
        weighted = first * self.activation_J_per_mol + second * self.second_activation_J_per_mol
        return np.asarray(weighted / (first + second))

    def _terms(self, temperature_K: FloatArray) -> tuple[FloatArray, FloatArray]:
        """The two parts of the factor of the temperature."""
        inverse = (1.0 / temperature_K - 1.0 / REFERENCE_K) / GAS_CONSTANT_J_PER_MOL_K
        second = self.second_fraction * np.exp(self.second_activation_J_per_mol * inverse)
        return (1.0 - self.second_fraction) * np.exp(self.activation_J_per_mol * inverse), second

    def pulse_fraction(self, length_s: FloatArray) -> FloatArray:
        """Voltage drop per current at the end of a pulse from rest, over the stated resistance [1].

        Args:
            length_s: Length of the pulse [s], >= 0, any shape.
        """
        built_up = [branch.fraction * -np.expm1(-length_s / branch.time_constant_s) for branch in self.branches]
        return np.asarray(self.ohmic_fraction + sum(built_up, start=np.zeros(np.shape(length_s))))


SINGLE: Final = ResistanceShape()
"""One resistance at any time, temperature and state of charge."""
