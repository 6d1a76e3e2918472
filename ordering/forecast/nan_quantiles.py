"""Quantiles of what is known of many series at once."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


def nan_quantiles(values: Array, levels: Array) -> Array:
    """Quantiles along the last axis, NaN left out.

    Parameters
    ----------
    values : [..., n], NaN where nothing is known
    levels : [level], 0 to 1

    Returns
    -------
    [..., level], NaN where nothing at all is known

    Notes
    -----
    Hazen's rule: the i-th of n values in sequence stands for the level (i - 1/2) / n, and what lies
    between two is interpolated; the median is the usual one. The same numbers as NumPy's `quantile`
    with method "hazen" (a test holds them together), which knows no NaN.
    """
    if not values.shape[-1]:
        return np.full((*values.shape[:-1], len(levels)), np.nan)
    sequence = np.sort(values, axis=-1)
    last = np.isfinite(values).sum(axis=-1)[..., None] - 1
    place = np.clip((last + 1) * levels - 0.5, 0, np.maximum(last, 0))
    below = np.floor(place).astype(np.intp)
    low = np.take_along_axis(sequence, below, axis=-1)
    high = np.take_along_axis(sequence, np.minimum(below + 1, np.maximum(last, 0)), axis=-1)
    return np.asarray(low + (high - low) * (place - below))
