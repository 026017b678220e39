"""Write the invented spring-tester file beside the demo's programme: `python tools/make_tarn_spring_test.py`.

The spring is the kit's front coil as a coiler might deliver it: 24.35 N/mm, 487.2 mm free, 28 N of friction between
loading and unloading, a soft beginning while the end coils come to bear, a load cell with 4 N of noise. Three cycles
from 4 mm above free to 190 mm of deflection in steps of 2 mm; semicolon and decimal comma, as many machines write.
Seed 20264.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np

RATE, FREE, FRICTION, NOISE, SEED = 24.35, 487.2, 28.0, 4.0, 20264
TARGET = Path(__file__).parents[1] / "src" / "tussock" / "data" / "tarn" / "tester" / "front-standard.csv"


def main() -> None:
    """Write the file."""
    draw = np.random.default_rng(SEED)
    rows = [
        "# spring tester of the invented mountain-rescue workshop; every figure is invented",
        "# front coil, bare, first sample of the batch; seats flat and parallel",
        "cycle;length [mm];load [N]",
    ]
    for cycle in (1, 2, 3):
        rate = RATE * (1.0 + 0.0008 * draw.standard_normal())
        down = np.arange(-4.0, 190.1, 2.0)
        for x, sign in ((down, 1.0), (down[::-1], -1.0)):
            pressed = np.maximum(x, 0.0)
            load = rate * (pressed - 0.6 * (1.0 - np.exp(-pressed / 4.0)))  # the end coils come to bear
            load += sign * FRICTION * np.minimum(pressed / 3.0, 1.0) + NOISE * draw.standard_normal(x.size)
            rows += [
                f"{cycle};{FREE - a:.2f};{b:.1f}".replace(".", ",")
                for a, b in zip(x, np.maximum(load, -6.0), strict=True)
            ]
    TARGET.parent.mkdir(exist_ok=True)
    TARGET.write_text("\n".join(rows) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
