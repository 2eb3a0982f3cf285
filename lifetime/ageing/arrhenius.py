"""The Arrhenius temperature factor, relative to a reference temperature."""

import numpy as np

from lifetime.checks import FloatArray


def inverse_temperature_difference(temperature_K: FloatArray, reference_temperature_K: float) -> FloatArray:
    """Return 1/T - 1/T_ref.

    Args:
        temperature_K: Temperature [K], > 0.
        reference_temperature_K: Temperature at which the factor is 1 [K], > 0.

    Returns:
        Difference of inverse temperatures [1/K], shape of ``temperature_K``.
    """
    inverse = np.reciprocal(temperature_K)
    inverse -= 1.0 / reference_temperature_K
    return inverse


def arrhenius_factor(
    temperature_K: FloatArray,
    *,
    activation_J_per_mol: float,
    gas_constant_J_per_mol_K: float,
    reference_temperature_K: float,
) -> FloatArray:
    """Return exp[-Ea/R (1/T - 1/T_ref)].

    Args:
        temperature_K: Temperature [K], > 0.
        activation_J_per_mol: Activation energy Ea [J/mol]; negative for a process that is worse when cold.
        gas_constant_J_per_mol_K: Gas constant R as the source of Ea used it [J/(mol K)].
        reference_temperature_K: Temperature at which the factor is 1 [K].

    Returns:
        Rate factor [1], shape of ``temperature_K``.

    Source: S. Arrhenius, Z. Phys. Chem. 4 (1889) 226, doi 10.1515/zpch-1889-0416 (citation from memory).
    """
    exponent = inverse_temperature_difference(np.asarray(temperature_K, dtype=np.float64), reference_temperature_K)
    exponent *= -activation_J_per_mol / gas_constant_J_per_mol_K
    return np.exp(exponent)
