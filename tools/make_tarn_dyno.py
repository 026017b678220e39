"""Write the demo's dyno sweeps: invented force curves, made to look like raw records with sensor noise.

Run ``python tools/make_tarn_dyno.py``; the files in ``src/tussock/data/tarn/dyno`` are its output, bit for bit.
"""

from __future__ import annotations

from pathlib import Path

from tussock.mechanics.dampers import ForceCurve, synthesise

SPEEDS = (0.05, 0.13, 0.26, 0.39, 0.52, 1.05)

#: name: (compression, rebound) forces at SPEEDS [N], gas force [N], friction [N], seed; all invented
CURVES: dict[str, tuple[tuple[float, ...], tuple[float, ...], float, float, int]] = {
    "stock-front": ((80, 185, 300, 380, 450, 740), (145, 350, 560, 700, 820, 1330), 55, 32, 101),
    "stock-rear": ((75, 170, 275, 350, 415, 690), (130, 320, 515, 645, 760, 1240), 55, 30, 102),
    "front-a": ((95, 215, 345, 435, 515, 850), (175, 440, 700, 870, 1020, 1620), 110, 34, 103),
    "rear-a": ((90, 200, 320, 405, 480, 800), (165, 410, 655, 815, 955, 1530), 110, 33, 104),
    "front-b": ((105, 235, 375, 470, 555, 920), (240, 600, 920, 1130, 1310, 2020), 110, 34, 105),
    "rear-b": ((100, 225, 355, 450, 530, 880), (225, 565, 865, 1065, 1235, 1910), 110, 33, 106),
    "front-c": ((160, 370, 580, 720, 840, 1330), (350, 880, 1330, 1610, 1850, 2750), 110, 36, 107),
    "rear-c": ((150, 345, 545, 680, 795, 1260), (325, 820, 1240, 1510, 1735, 2590), 110, 35, 108),
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
