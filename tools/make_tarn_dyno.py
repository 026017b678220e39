"""Write the demo's dyno sweeps: invented force curves, made to look like raw records with sensor noise.

Run ``python tools/make_tarn_dyno.py``; the files in ``src/tussock/data/tarn/dyno`` are its output, bit for bit.
"""

from __future__ import annotations

from pathlib import Path

from tussock.mechanics.dampers import ForceCurve, synthesise

SPEEDS = (0.05, 0.13, 0.26, 0.39, 0.52, 1.05)

#: name: (compression, rebound) forces at SPEEDS [N], gas force [N], friction [N], seed; all invented
CURVES: dict[str, tuple[tuple[float, ...], tuple[float, ...], float, float, int]] = {
    "stock-front": ((125, 270, 420, 520, 610, 1000), (135, 290, 430, 520, 600, 900), 55, 70, 101),
    "stock-rear": ((115, 250, 390, 485, 565, 930), (125, 270, 400, 485, 560, 835), 55, 65, 102),
    "front-a": ((65, 155, 260, 335, 400, 690), (135, 350, 590, 750, 890, 1480), 110, 28, 103),
    "rear-a": ((60, 145, 240, 310, 370, 640), (125, 325, 550, 700, 830, 1375), 110, 26, 104),
    "front-b": ((80, 190, 315, 400, 475, 810), (205, 530, 860, 1065, 1240, 1960), 110, 28, 105),
    "rear-b": ((75, 175, 295, 370, 440, 755), (190, 495, 800, 990, 1155, 1825), 110, 26, 106),
    "front-c": ((170, 400, 650, 820, 970, 1580), (450, 1180, 1850, 2260, 2600, 3850), 110, 34, 107),
    "rear-c": ((160, 370, 605, 765, 900, 1470), (420, 1095, 1720, 2100, 2420, 3580), 110, 32, 108),
}


def main() -> None:
    """Write every file."""
    folder = Path(__file__).parents[1] / "src" / "tussock" / "data" / "tarn" / "dyno"
    folder.mkdir(parents=True, exist_ok=True)
    for name, (compression, rebound, gas, friction, seed) in CURVES.items():
        curve = ForceCurve.from_points(
            speeds=SPEEDS, compression=compression, rebound=rebound, gas_force=gas, friction=friction, name=name
        )
        text = synthesise(curve, speeds=(0.005, *SPEEDS), stroke=0.1, seed=seed, cycles=1.5, samples_per_cycle=120)
        (folder / f"{name}.csv").write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
