"""Invented spring-tester files whose truth is known."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np


def spring_file(
    *,
    rate: float = 24e3,
    free: float = 0.486,
    friction: float = 30.0,
    deepest: float = 0.18,
    noise: float = 4.0,
    cycles: int = 1,
    seed: int = 1,
    load: Callable[[np.ndarray], np.ndarray] | None = None,
    unloading: bool = True,
    titles: str = "length [mm];load [N]",
    decimal: str = ".",
    scatter: float = 0.0,
    memory: float = 0.0,
) -> str:
    """Return a file: from 5 mm above free to the deepest and back, 1 mm steps, friction growing over 2 mm.

    `scatter` is the relative scatter of the rate from cycle to cycle, `memory` the correlation of neighbouring noise.
    """
    draw = np.random.default_rng(seed)
    rows: list[str] = []
    for _ in range(cycles):
        own = rate * (1.0 + scatter * draw.standard_normal())
        down = np.arange(-0.005, deepest + 1e-9, 1e-3)
        branches = [(down, 1.0)] + ([(down[::-1], -1.0)] if unloading else [])
        for x, sign in branches:
            pressed = np.maximum(x, 0.0)
            f = own * pressed if load is None else load(pressed)
            f = f + np.where(pressed > 0.0, sign * friction * np.minimum(pressed / 2e-3, 1.0), 0.0)
            white = draw.standard_normal(x.size)
            for i in range(1, white.size):
                white[i] = memory * white[i - 1] + np.sqrt(1.0 - memory**2) * white[i]
            f = f + noise * white
            rows += [f"{1e3 * (free - a):.3f};{b:.2f}".replace(".", decimal) for a, b in zip(x, f, strict=True)]
    return "\n".join(["# invented spring, for tests", titles, *rows]) + "\n"
