"""Write the Dunnock's dyno sweeps: invented force curves, made to look like raw records with sensor noise.

Run ``python tools/make_dunnock_dyno.py``; the files in ``src/tussock/data/dunnock/dyno`` are its output, bit for bit.
"""

from __future__ import annotations

from pathlib import Path

from tussock.mechanics.dampers import ForceCurve, synthesise

SPEEDS = (0.05, 0.13, 0.26, 0.39, 0.52, 1.05)

#: name: (compression, rebound) forces at SPEEDS [N], gas force [N], friction [N], seed; all invented
CURVES: dict[str, tuple[tuple[float, ...], tuple[float, ...], float, float, int]] = {
    "stock-front": ((200, 480, 780, 960, 1120, 1750), (330, 900, 1500, 1850, 2150, 3300), 150, 75, 201),
    "stock-rear": ((90, 210, 350, 440, 520, 830), (140, 380, 640, 800, 930, 1430), 60, 60, 202),
    "front-a": ((190, 450, 740, 930, 1090, 1750), (430, 1180, 1900, 2330, 2700, 4000), 210, 40, 203),
    "rear-a": ((110, 260, 430, 540, 640, 1020), (200, 540, 900, 1120, 1300, 1980), 120, 28, 204),
    "front-b": ((240, 590, 980, 1220, 1430, 2250), (680, 1830, 2950, 3600, 4150, 6000), 210, 42, 205),
    "rear-b": ((140, 330, 540, 680, 800, 1280), (270, 730, 1200, 1480, 1720, 2600), 120, 30, 206),
    "front-c": ((320, 800, 1350, 1680, 1980, 3100), (800, 2150, 3450, 4200, 4800, 6900), 210, 46, 207),
    "rear-c": ((210, 500, 830, 1040, 1220, 1930), (430, 1150, 1900, 2330, 2680, 4000), 120, 34, 208),
}


def main() -> None:
    """Write every file."""
    folder = Path(__file__).parents[1] / "src" / "tussock" / "data" / "dunnock" / "dyno"
    folder.mkdir(parents=True, exist_ok=True)
    for name, (compression, rebound, gas, friction, seed) in CURVES.items():
        curve = ForceCurve.from_points(
            speeds=SPEEDS, compression=compression, rebound=rebound, gas_force=gas, friction=friction, name=name
        )
        text = synthesise(curve, speeds=(0.005, *SPEEDS), stroke=0.1, seed=seed, cycles=1.5, samples_per_cycle=120)
        (folder / f"{name}.csv").write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
