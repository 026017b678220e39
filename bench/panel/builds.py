"""The adjusters of a panel's vehicle, and which builds are safe: fifteen adjusters in steps, soft is 0.

Twelve damper levels of 7 steps (axle, direction, speed band), two springs and the front bar of 5 steps. Safe, as a rule
and not as a penalty: rebound at most 3 steps below compression in every axle and band, springs within 2 steps.
"""

from __future__ import annotations

import itertools
from collections.abc import Mapping

import numpy as np

from tussock.mechanics.arrays import Floats, Ints

KEYS = (
    *(f"{e}_{d}_{b}" for e in ("front", "rear") for d in ("rebound", "compression") for b in ("low", "mid", "high")),
    "front_spring",
    "rear_spring",
    "front_bar",
)
COUNTS = np.array([7] * 12 + [5] * 3)
STEPS = np.array([1.22] * 12 + [1.08] * 2 + [1.25])
"""Factor of one step [-]: seven steps of damping span 0.55 to 1.82 of the kit's, five of a spring 0.86 to 1.17."""
MIDDLE = (COUNTS - 1) // 2
REBOUND, COMPRESSION = np.array([0, 1, 2, 6, 7, 8]), np.array([3, 4, 5, 9, 10, 11])
SPRINGS = (12, 13)
BELOW = 3
"""Steps that rebound may stand below compression."""
APART = 2
"""Steps that the springs may stand apart."""

Build = tuple[int, ...]


def is_safe(builds: Ints) -> np.ndarray:
    """Return which builds (n, 15) are safe and on the lattice."""
    x = np.atleast_2d(builds)
    inside = np.all((x >= 0) & (x < COUNTS), axis=1)
    held = np.all(x[:, REBOUND] >= x[:, COMPRESSION] - BELOW, axis=1)
    return np.asarray(inside & held & (np.abs(x[:, SPRINGS[0]] - x[:, SPRINGS[1]]) <= APART))


def random_safe(random: np.random.Generator, count: int) -> list[Build]:
    """Return different safe builds, each as likely as the other."""
    found: dict[Build, None] = {}
    while len(found) < count:
        tried = random.integers(0, COUNTS, size=(4 * count, len(COUNTS)))
        found.update(dict.fromkeys(build_of(row) for row in tried[is_safe(tried)]))
    return list(found)[:count]


def build_of(row: Ints) -> Build:
    """Return a row of levels as a build."""
    return tuple(int(v) for v in row)


def neighbours(build: Build, *, most: int = 1) -> list[Build]:
    """Return the safe builds that differ in one adjuster by up to `most` steps."""
    at = np.array(build)
    rows = []
    for place, step in itertools.product(range(len(build)), (s for s in range(-most, most + 1) if s)):
        row = at.copy()
        row[place] += step
        rows.append(row)
    tried = np.array(rows)
    return [build_of(row) for row in tried[is_safe(tried)]]


def factors(build: Build, size: Floats | None = None) -> Mapping[str, float]:
    """Return what a build multiplies, by adjuster; `size` scales the steps of each adjuster (1 as computed)."""
    scale = np.ones(len(KEYS)) if size is None else size
    exponent = (np.array(build) - MIDDLE) * scale
    return dict(zip(KEYS, (float(v) for v in STEPS**exponent), strict=True))


def scaled(builds: Ints) -> Floats:
    """Return levels from -1 (softest) to 1 (firmest) (n, 15)."""
    return np.asarray(2.0 * np.atleast_2d(builds) / (COUNTS - 1) - 1.0)
