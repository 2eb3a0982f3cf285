"""Adding up clocks: the arithmetic every law shares.

Damage ``x = k(stress) * u**z`` under changing stress is ``x = (sum k_i**(1/z) du_i)**z``: exact, and independent of
order and step size. Adding k linearly, or adding root-of-time pieces, is wrong by up to a third
(equivalent-time identity; the same state form stands in Petit et al., Applied Energy 172 (2016) 398,
doi 10.1016/j.apenergy.2016.03.119).
"""

import numpy as np

from lifetime.checks import FloatArray


def turn(rate: FloatArray, exposure: FloatArray) -> FloatArray:
    """How far one clock turns: the sum of rate times exposure along the last axis.

    Args:
        rate: ``k**(1/z)`` in each bin or cycle class [1 per unit of exposure], >= 0.
        exposure: Time [s, h or d], throughput [FEC or Ah] or cycles [1] in each bin or class, >= 0; broadcasts
            against ``rate``.

    Returns:
        One value per condition, the last axis summed away.
    """
    # einsum sums without building the product array and without BLAS threads inside worker processes
    total: FloatArray = np.einsum("...i,...i->...", rate, exposure)
    return total


def stack_clocks(*columns: FloatArray | float) -> FloatArray:
    """Join one clock per mechanism into an array with the mechanisms on the last axis.

    Args:
        columns: One array (or scalar) per mechanism; their shapes broadcast.

    Returns:
        Array of shape (conditions..., mechanisms).
    """
    shape = np.broadcast_shapes(*(np.shape(column) for column in columns))
    clocks = np.empty((*shape, len(columns)), dtype=np.float64)
    for place, column in enumerate(columns):
        clocks[..., place] = column
    return clocks


def share_loss(loss: FloatArray, clocks: FloatArray) -> FloatArray:
    """Share a loss that is a map of the sum of clocks, in proportion to the clocks.

    Args:
        loss: Capacity loss [fraction], shape (...).
        clocks: The clocks behind it, shape (..., mechanisms), >= 0.

    Returns:
        Loss by mechanism, shape of ``clocks``; zero where no clock has turned.
    """
    total = np.sum(clocks, axis=-1, keepdims=True)
    share = np.divide(clocks, total, out=np.zeros_like(clocks), where=total > 0.0)
    shared: FloatArray = np.expand_dims(loss, -1) * share
    return shared
