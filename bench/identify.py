"""Do measured drives give the vehicle's parameters back? Hidden vehicles on roads of their own, at any number of seeds.

    python bench/identify.py [seeds, 50] [drives of the model, 500] [which draw of hidden vehicles and roads, 0]

Each hidden vehicle differs from the model in all nine parameters by up to +-0.35 of the span's half width and drives
the packaged Tarn's four random sections once, on a surface of its own and of hidden roughness. One emulator serves
all of them. Printed: the share of 90 % intervals that hold the hidden value, by parameter.
"""

from __future__ import annotations

import sys
import time
from dataclasses import replace
from importlib.resources import files

import numpy as np

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
    inside, sigma, misfit = [], [], []
    start = time.perf_counter()
    for seed in range(seeds):
        theta = rng.uniform(-0.35, 0.35, len(plan.parameters))
        hidden = {p.key: p.factor(float(t)) for p, t in zip(plan.parameters, theta, strict=True)}
        fit = estimate(emulator, figures(plan, hidden, seed=90_000 + 100_000 * draw + seed).values)
        inside.append([fit.interval(k)[0] < v < fit.interval(k)[1] for k, v in hidden.items()])
        sigma.append(fit.sigma)
        misfit.append(fit.misfit < fit.misfit_limit)
    print(f"{seeds} hidden vehicles: {time.perf_counter() - start:.0f} s")
    print(f"{'parameter':28s} {'inside 90 %':>12s} {'half interval':>14s}")
    for i, p in enumerate(plan.parameters):
        half = np.mean([p.factor(1.645 * s[i]) / p.factor(0.0) - 1.0 for s in sigma])
        print(f"{p.key:28s} {np.mean([row[i] for row in inside]):12.2f} {100.0 * half:12.1f} %")
    print(f"{'all':28s} {np.mean(inside):12.3f}")
    print(f"misfit within chance in {np.mean(misfit):.2f} of them")


if __name__ == "__main__":
    asked = [int(a) for a in sys.argv[1:4]]
    main(*asked, *(50, 500, 0)[len(asked) :])
