"""Do measured drives give the vehicle's parameters back? Hidden vehicles on roads of their own, at any number of seeds.

    python bench/identify.py [seeds, 50] [drives of the model, 500] [which draw of hidden vehicles and roads, 0]

Each hidden vehicle differs from the model in all nine parameters by up to +-0.35 of the span's half width and drives
the packaged Tarn's four random sections once, on a surface of its own and of hidden roughness. One emulator serves
all of them. Printed, by parameter: the share of 90 % intervals that hold the hidden value, and the root mean square of
the error over the stated deviation, which is 1 for a right interval and more for one that is too narrow. Of 50 vehicles
a share has a standard error of 4 in 100 and this ratio one of 10 in 100: the ratio tells more. The tyres' stiffness is
shared by all sections, so a vehicle whose tyres are missed misses its roads' roughness as well; with every row stands
how its errors go with the tyres'.
"""

from __future__ import annotations

import sys
import time
from dataclasses import replace
from importlib.resources import files

import numpy as np
from scipy.stats import binom

from tussock.mechanics.identify import Plan, emulate, estimate, figures, usual_places
from tussock.studies import loop, model
from tussock.studies.job import open_job

SECTIONS = ("valley road", "moor road", "fast gravel", "forest track")


def tarn() -> Plan:
    """Return the packaged wagon on its random sections, obstacles taken away."""
    job = open_job(str(files("tussock") / "data/tarn/programme.yaml"))
    vehicle = model.vehicle(job, job.setup())
    chosen = tuple(replace(s, features=()) for s in loop.sections(job) if s.name in SECTIONS)
    seat = job.programme.vehicle.places["driver"].seat.si
    centre = vehicle.body.centre
    return Plan(
        vehicle=vehicle,
        sections=chosen,
        body=usual_places(vehicle),
        seat=(seat[0] - centre[0], seat[1] - centre[1], seat[2] - centre[2]),
        track=vehicle.front.axle.track,
    )


def main(seeds: int, count: int, draw: int) -> None:
    """Print the table."""
    plan = tarn()
    start = time.perf_counter()
    emulator = emulate(plan, count=count, seed=3, half=0.5)
    print(f"{count} drives of the model, {len(emulator.names)} figures: {time.perf_counter() - start:.0f} s")
    rng = np.random.default_rng(2026 + draw)
    inside, sigma, misfit, off = [], [], [], []
    start = time.perf_counter()
    for seed in range(seeds):
        theta = rng.uniform(-0.35, 0.35, len(plan.parameters))
        hidden = {p.key: p.factor(float(t)) for p, t in zip(plan.parameters, theta, strict=True)}
        fit = estimate(emulator, figures(plan, hidden, seed=90_000 + 100_000 * draw + seed).values)
        inside.append([fit.interval(k)[0] < v < fit.interval(k)[1] for k, v in hidden.items()])
        sigma.append(fit.sigma)
        off.append((fit.theta - theta) / fit.sigma)
        misfit.append(fit.misfit < fit.misfit_limit)
    print(f"{seeds} hidden vehicles: {time.perf_counter() - start:.0f} s")
    errors = np.array(off)
    low, high = binom.interval(0.95, seeds, 0.9)
    along = np.corrcoef(errors.T)[plan.keys.index("tyre_stiffness")]
    print(f"of {seeds} intervals of 90 % chance leaves {low:.0f} to {high:.0f} that hold, in 95 of 100 such runs")
    print(
        f"{'parameter':28s} {'hold':>6s} {'share':>6s} {'error/stated':>13s} {'with tyres':>11s} {'half interval':>14s}"
    )
    for i, p in enumerate(plan.parameters):
        half = np.mean([p.factor(1.645 * s[i]) / p.factor(0.0) - 1.0 for s in sigma])
        held = [row[i] for row in inside]
        print(
            f"{p.key:28s} {sum(held):6d} {np.mean(held):6.2f} {np.sqrt(np.mean(errors[:, i] ** 2)):13.2f} "
            f"{along[i]:11.2f} {100.0 * half:12.1f} %"
        )
    print(f"{'all':28s} {'':6s} {np.mean(inside):6.3f} {np.sqrt(np.mean(errors**2)):13.2f}")
    print(f"misfit within chance in {np.mean(misfit):.2f} of them")


if __name__ == "__main__":
    asked = [int(a) for a in sys.argv[1:4]]
    main(*asked, *(50, 500, 0)[len(asked) :])
