"""How much each candidate counts, learnt from pseudo-forecasts, by how far ahead they looked."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Index = NDArray[np.int64]

BUCKETS = ((1, 7), (8, 14), (15, 60))
SHARPNESS = 8.0
PRIOR_DAYS = 10.0
FADING = 0.95


def bucket_of(ahead: int) -> Index:
    """Bucket of each step 1 .. ahead, shape (ahead,); steps beyond 60 count as the last."""
    step = np.arange(1, ahead + 1)
    return np.asarray(np.minimum(np.searchsorted([low for low, _ in BUCKETS], step, side="right") - 1, 2))


def weights(errors: Array, bucket: Index) -> Array:
    """Soft-min weights of the candidates.

    Parameters
    ----------
    errors : [item, origin, candidate, ahead], absolute errors, NaN for all candidates where the actual is
        not known
    bucket : [ahead]

    Returns
    -------
    [item, origin + 1, candidate, bucket]: entry o is learnt from every origin but o, so that a
    pseudo-forecast is never weighed by its own error; the last entry from all of them. Rows sum to 1.
    Each origin counts a twentieth less than the one after it.
    """
    within = (bucket[:, None] == np.arange(len(BUCKETS))).astype(float)
    recent = FADING ** np.arange(errors.shape[1])[::-1, None, None]
    known = np.isfinite(errors[:, :, :1])
    total, count = recent * (np.where(known, errors, 0.0) @ within), recent * (known @ within)
    every, number = total.sum(axis=1, keepdims=True), count.sum(axis=1, keepdims=True)
    left = np.concatenate([every - total, every], axis=1)
    days = np.concatenate([number - count, number], axis=1)
    general = every.sum(axis=3, keepdims=True) / np.maximum(number.sum(axis=3, keepdims=True), 1e-9)
    error = (left + PRIOR_DAYS * general) / (days + PRIOR_DAYS)
    best = np.maximum(error.min(axis=2, keepdims=True), 1e-12)
    raw = np.maximum(error / best, 1.0) ** -SHARPNESS
    return np.asarray(raw / raw.sum(axis=2, keepdims=True))


def combined(candidates: Array, weight: Array, bucket: Index) -> Array:
    """[item, origin, ahead]: candidates [item, origin, candidate, ahead] by their weights."""
    found = np.empty((*candidates.shape[:2], candidates.shape[3]))
    for b in range(len(BUCKETS)):
        at = bucket == b
        found[..., at] = (weight[..., None, :, b] @ candidates[..., at])[:, :, 0]
    return found
