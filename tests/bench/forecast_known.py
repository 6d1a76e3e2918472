"""Forecasts of invented pasts whose coming days are known, held to a stated bias and band.

    OMP_NUM_THREADS=1 python tests/bench/forecast_known.py [seeds]     forty unless said, half a minute

A shift of level, growth, a closure, a holiday, nights that sold out, new dishes, unusual bookings.
Ends with status 1 where a figure is not as stated; the suite holds a few seeds of each to a little more.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))
sys.path.insert(0, str(Path(__file__).parents[2]))  # this tree, whatever is installed
from known_pasts import CASES, WIDTHS, lived, outside, widths


def main() -> int:
    seeds = range(int(sys.argv[1]) if len(sys.argv) > 1 else 40)
    print(f"{'':<46}{'bias':>8}{'at most':>9}{'a seed':>8}{'80 % band held':>16}")
    wrong: list[str] = []
    for case in CASES:
        found = lived(case, seeds)
        each = found.mean.sum(axis=1) / found.truth.sum(axis=1) - 1
        usual = np.sqrt((each**2).mean())
        row = f"{found.bias:>+8.1%}{case.most:>9.0%}{usual:>8.1%}{found.inside.mean():>16.0%}"
        print(f"{case.name:<46}{row}", flush=True)
        wrong += outside(case, found)
    low, high = WIDTHS
    print(f"\nwidth of the normal scores of what came in the paths, {low} to {high} is stated:")
    for kind, width in widths(seeds).items():
        print(f"{kind.replace('_', ' '):<46}{width:8.2f}")
        if not low <= width <= high:
            wrong.append(f"{kind}: width {width:.2f}")
    print("\n".join(wrong) or "all as stated")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
