"""Times of damper hydraulics on one thread: force curve, loop, warm-up, a drawing; a large random sample of builds.

Run with ``python bench/hydraulics.py``. Beside the force curve stands its ratio to SciPy's ``brentq`` on the same
network, one call for each velocity, in the same run. The last line solves 2,000 random
builds to 10 m/s and counts what failed.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
from scipy.optimize import brentq

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "mechanics" / "dampers"))
sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "mechanics" / "dampers" / "hydraulics"))
import tarn_builds
from tarn_dampers import mono, random_build, remote, twin

from tussock.errors import SolverError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.dampers.assembly import LiftTables, force_at
from tussock.mechanics.dampers.hydraulics import Damper, Duty, cycle, solve, velocity_grid, warm_up


def best(function: Callable[[], object], *, repeats: int) -> float:
    """Return the least time of several calls [s]."""
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        function()
        times.append(time.perf_counter() - start)
    return min(times)


def by_brentq(damper: Damper, velocities: Floats) -> Floats:
    """Return the piston's drop at each velocity [Pa], the effective pressure found by brentq."""
    oil = damper.oil.at(293.15)
    found = np.zeros_like(velocities)
    band = damper.piston.band
    drag = 0.0 if band is None else band.drag_flow(1.0)
    for i, v in enumerate(velocities):
        if v == 0.0:
            continue
        sense = "compression" if v > 0.0 else "rebound"
        need = (damper.annulus_area - drag) * abs(v)

        def lack(log_pressure: float, sense: str = sense, need: float = need) -> float:
            state = damper.piston.at(np.array([np.exp(log_pressure)]), oil, sense=sense)  # type: ignore[arg-type]
            return float(sum(flow[0] for flow in state.flows.values())) - need

        root = brentq(lack, np.log(1e-12), np.log(1e14), xtol=1e-14, rtol=1e-15)
        found[i] = damper.piston.at(np.array([np.exp(root)]), oil, sense=sense).drop[0]  # type: ignore[arg-type]
    return found


def main() -> None:
    """Print the table."""
    velocities = velocity_grid()
    for build in (twin, mono, remote):
        damper = build()
        curve = best(lambda d=damper: solve(d).force_curve(), repeats=20)
        general = best(lambda d=damper: by_brentq(d, velocities), repeats=2)
        steady = solve(damper)
        drop = np.abs(steady.compression_pressure - steady.rebound_pressure)
        free = ~steady.cavitates & (velocities != 0.0)
        worst = float(np.max(np.abs(by_brentq(damper, velocities)[free] / drop[free] - 1.0)))
        loop = best(lambda d=damper: cycle(d, amplitude=0.05, frequency=1.667), repeats=3)
        duty = [Duty.sine(amplitude=0.01, frequency=5.0, air_speed=6.0, duration=1800.0)]
        heat = best(
            lambda d=damper, w=duty: warm_up(d, duties=w, air_temperature=303.15, film_coefficient=150.0), repeats=3
        )
        print(
            f"{damper.name:18s} 61 velocities {curve * 1e3:5.2f} ms (piston alone by brentq {general / curve:5.1f} "
            f"times that; drops differ by {worst:.1e})  loop {loop * 1e3:6.1f} ms  half an hour's heat "
            f"{heat * 1e3:6.1f} ms"
        )
    drawn, lifts = tarn_builds.twin(), LiftTables()
    anew = best(lambda: force_at(drawn, velocities), repeats=20)
    force_at(drawn, velocities, lifts=lifts)
    known = best(lambda: force_at(drawn, velocities, lifts=lifts), repeats=50)
    print(
        f"from the drawing: {anew * 1e3:.1f} ms with its three stacks, {known * 1e3:.1f} ms with stacks solved already"
    )
    rng = np.random.default_rng(20)
    failed, choked, start = 0, 0, time.perf_counter()
    fast = np.linspace(-10.0, 10.0, 41)
    for _ in range(2000):
        damper = random_build(rng)
        try:
            one = solve(damper, velocities=fast, temperature=float(rng.uniform(253.15, 413.15)))
        except SolverError as error:
            failed += 1
            print(error)
            continue
        if not all(np.all(np.isfinite(a)) for a in (one.force, one.margin, *one.parts.values())):
            failed += 1
        choked += bool(np.any(one.cavitates))
    each = (time.perf_counter() - start) / 2000
    print(
        f"2000 random builds to 10 m/s (seed 20): {failed} failed, {choked} cavitate somewhere, "
        f"{each * 1e3:.1f} ms each"
    )


if __name__ == "__main__":
    main()
