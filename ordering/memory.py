"""How often a process that makes orders looks for garbage."""

from __future__ import annotations

import gc

RARELY = 1_000_000  # objects that stay; an order leaves a twentieth of that


def collect_rarely() -> None:
    """Look for garbage rarely: hardly any is made, and looking takes a twentieth of an order."""
    gc.set_threshold(RARELY)


def collect_now() -> None:
    """Look for garbage once, between orders of one process; what is no garbage now is not looked at again."""
    gc.collect()
    gc.freeze()
