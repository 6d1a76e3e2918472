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
    errors : [item, origin, candidate, ahead], absolute errors, NaN where the actual is not known
    bucket : [ahead]

    Returns
    -------
    [item, origin + 1, candidate, bucket]: entry o is learnt from every origin but o, so that a
    pseudo-forecast is never weighed by its own error; the last entry from all of them. Rows sum to 1.
    Each origin counts a twentieth less than the one after it.
    """
    n_items, n_origins, n_candidates, _ = errors.shape
    found = np.empty((n_items, n_origins + 1, n_candidates, len(BUCKETS)))
    recent = FADING ** np.arange(n_origins)[::-1]
    known = np.isfinite(errors) * recent[None, :, None, None]
    filled = np.where(np.isfinite(errors), errors, 0.0) * recent[None, :, None, None]
    overall = filled.sum(axis=(1, 3))
    for b in range(len(BUCKETS)):
        at = bucket == b
        total = filled[..., at].sum(axis=3)
        count = known[..., at].sum(axis=3)
        every, number = total.sum(axis=1, keepdims=True), count.sum(axis=1, keepdims=True)
        left = np.concatenate([every - total, every], axis=1)
        days = np.concatenate([number - count, number], axis=1)
        general = (overall / np.maximum(known.sum(axis=(1, 3)), 1e-9))[:, None, :]
        error = (left + PRIOR_DAYS * general) / (days + PRIOR_DAYS)
        best = np.maximum(error.min(axis=2, keepdims=True), 1e-12)
        raw = np.maximum(error / best, 1.0) ** -SHARPNESS
        found[..., b] = raw / raw.sum(axis=2, keepdims=True)
    return found


def combined(candidates: Array, weight: Array, bucket: Index) -> Array:
    """[item, origin, ahead]: candidates [item, origin, candidate, ahead] by their weights."""
    return np.asarray((candidates * weight[..., bucket]).sum(axis=2))
