"""Write the demo's dyno sweeps, made to look like raw records with sensor noise; everything is invented.

Run ``python tools/make_tarn_dyno.py``; the files in ``src/tussock/data/tarn/dyno`` are its output, bit for bit.

The stock dampers have invented force curves. The kit's dampers are computed from the bodies and valves of the demo's
programme, with parameters that the programme does not hold (`WORKSHOP`): how the invented house's pistons really flow,
leak, rub and preload. A calibration has to find them from the sweeps.
"""

from __future__ import annotations

from pathlib import Path

from tussock.mechanics.dampers import ForceCurve, synthesise
from tussock.mechanics.dampers.assembly import LiftTables, Parameters, curve_at
from tussock.record import load
from tussock.studies.damper_builds import build_of
from tussock.studies.job import Job

DATA = Path(__file__).parents[1] / "src" / "tussock" / "data" / "tarn"
SPEEDS = (0.05, 0.13, 0.26, 0.39, 0.52, 1.05)

#: name: (compression, rebound) forces at SPEEDS [N], gas force [N], friction [N], seed; all invented
CURVES: dict[str, tuple[tuple[float, ...], tuple[float, ...], float, float, int]] = {
    "stock-front": ((125, 270, 420, 520, 610, 1000), (135, 290, 430, 520, 600, 900), 55, 70, 101),
    "stock-rear": ((115, 250, 390, 485, 565, 930), (125, 270, 400, 485, 560, 835), 55, 65, 102),
}

#: kit damper: seed of its sensors' noise
SEEDS = {"front_a": 103, "rear_a": 104, "front_b": 105, "rear_b": 106, "front_c": 107, "rear_c": 108}

#: What the invented workshop's dampers are really like.
WORKSHOP = Parameters(
    curtain_discharge=0.64,
    port_factor=0.93,
    bleed_factor=0.88,
    band_gap=0.042e-3,
    seat_offset=-0.018e-3,
    jet_coefficient=0.14,
    seal_friction=29.0,
)
#: Scatter from damper to damper: seal friction added [N] and seat height added [m]; invented.
SCATTER = {
    "front_a": (0.0, 0.0),
    "rear_a": (-2.0, 0.003e-3),
    "front_b": (1.0, -0.004e-3),
    "rear_b": (3.0, 0.002e-3),
    "front_c": (4.0, 0.005e-3),
    "rear_c": (-1.0, -0.003e-3),
}
#: Of the oil while the sweeps were run [K].
TEMPERATURE = 298.15


def curves() -> dict[str, tuple[ForceCurve, int]]:
    """Return every damper's curve with the seed of its record, by file name."""
    out = {
        name: (
            ForceCurve.from_points(
                speeds=SPEEDS, compression=compression, rebound=rebound, gas_force=gas, friction=friction, name=name
            ),
            seed,
        )
        for name, (compression, rebound, gas, friction, seed) in CURVES.items()
    }
    job = Job(load(DATA / "programme.yaml", check_files=False))
    lifts = LiftTables()
    for name, seed in SEEDS.items():
        friction, height = SCATTER[name]
        true = WORKSHOP.changed(
            seal_friction=WORKSHOP.seal_friction + friction, seat_offset=WORKSHOP.seat_offset + height
        )
        build = build_of(job, job.programme.kit.dampers[name], name)
        out[name.replace("_", "-")] = (curve_at(build, temperature=TEMPERATURE, parameters=true, lifts=lifts), seed)
    return out


def main() -> None:
    """Write every file."""
    folder = DATA / "dyno"
    folder.mkdir(parents=True, exist_ok=True)
    for name, (curve, seed) in curves().items():
        text = synthesise(curve, speeds=(0.005, *SPEEDS), stroke=0.1, seed=seed, cycles=1.5, samples_per_cycle=120)
        (folder / f"{name}.csv").write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
