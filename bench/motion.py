"""Time of the motion engine: times real time, against SciPy's solve_ivp on the same compiled right-hand side.

Run: python bench/motion.py. Figures of one run belong together; other work on the machine slows both alike.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

import numpy as np
from scipy.integrate import solve_ivp

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "mechanics" / "motion"))
from motion_vehicles import wagon
from motion_wheels import pick_up

from tussock.mechanics.arrays import Floats
from tussock.mechanics.motion import Vehicle, linearise, pack, road_inputs, settle, simulate
from tussock.mechanics.motion import kernels as k
from tussock.mechanics.motion.driver import NO_DRIVER
from tussock.mechanics.motion.rest import Evaluator
from tussock.mechanics.roads import Section, Track, build

SPEED = 20.0
SCIPY_SECONDS = 3.0  # of driving that solve_ivp is given


def best(function: Callable[[], object], *, repeats: int) -> float:
    """Return the least time of several calls [s]."""
    times = []
    for _ in range(repeats):
        start = time.perf_counter()
        function()
        times.append(time.perf_counter() - start)
    return min(times)


def by_scipy(inputs: Floats, step: float, *, tolerance: float, method: str) -> Callable[[], object]:
    """Return a run of the first seconds by solve_ivp, inputs held between half steps."""
    vehicle = wagon()
    packed, rest = pack(vehicle, lag=0.0), settle(vehicle)
    evaluate = Evaluator(packed, lag=0.0)
    rate = np.zeros(k.POSITIONS)
    start = np.concatenate([rest.q, np.zeros(k.SPEEDS), rest.local])

    def slopes(t: float, y: Floats) -> Floats:
        row = inputs[min(int(t / step), inputs.shape[0] - 1)]
        q, u, local = (part.copy() for part in np.split(y, [k.POSITIONS, k.POSITIONS + k.SPEEDS]))
        acceleration = evaluate(q, u, local, row)
        k.kinematics(q, u, float(row[12]), rate)
        return np.concatenate([rate, acceleration, evaluate.local_rate])

    return lambda: solve_ivp(slopes, (0.0, SCIPY_SECONDS), start, method=method, rtol=tolerance, atol=1e-6)


def compile_time() -> float:
    """Return the time of a first run in a fresh process with an empty cache, less that of a second one [s]."""
    code = (
        "import sys, time; sys.path.insert(0, sys.argv[1]);"
        "from motion_vehicles import wagon; from tussock.mechanics.motion import simulate, linearise;"
        "from tussock.mechanics.roads import Track; import numpy as np;"
        "t = time.perf_counter(); road = Track(spacing=0.1, left=np.zeros(60), right=np.zeros(60));"
        "simulate(wagon(), road, speed=10.0); linearise(wagon(), speed=10.0); print(time.perf_counter() - t)"
    )
    times = []
    with tempfile.TemporaryDirectory() as folder:
        for _ in range(2):
            out = subprocess.run(
                [sys.executable, "-c", code, sys.path[0]],
                env={**os.environ, "NUMBA_CACHE_DIR": folder},
                capture_output=True,
                check=True,
                text=True,
            )
            times.append(float(out.stdout))
    return times[0] - times[1]


def engine_pace(vehicle: Vehicle, inputs: Floats, step: float, *, every: int) -> float:
    """Return how many times faster than real time the engine alone runs."""
    packed, rest = pack(vehicle, lag=0.5 * step), settle(vehicle)
    kept = inputs.shape[0] // every
    states, logs = np.zeros((k.POSITIONS + k.SPEEDS, kept)), np.zeros((k.LOG, kept))

    def engine() -> None:
        k.run(
            rest.q.copy(),
            np.zeros(k.SPEEDS),
            rest.local.copy(),
            inputs,
            step,
            every,
            *packed.arguments,
            states,
            logs,
            np.zeros(7),
            *NO_DRIVER,
        )

    return inputs.shape[0] * step / best(engine, repeats=7)


def main() -> None:
    """Print the figures."""
    vehicle = wagon()
    road: Track = build(Section.of_class("D", name="bench", length=1200.0, speed=SPEED), track=1.5, seed=1)
    rest, step = settle(vehicle), 1e-3
    seconds = road.length / SPEED
    height, rate, slope = road_inputs(road, speed=SPEED, wheelbase=vehicle.wheelbase, step=step, contact_length=0.15)
    inputs = np.zeros((height.shape[0], k.INPUTS))
    inputs[:, :4], inputs[:, 4:8], inputs[:, 8:12], inputs[:, 12] = height, rate, slope, SPEED
    print(f"invented wagon, ISO 8608 class D, {SPEED:g} m/s, {seconds:.0f} s of driving, step 1 ms, one core")
    ours = engine_pace(vehicle, inputs, step, every=5)
    print(f"engine, every 5. step kept      {ours:7.0f} x real time")
    print(f"engine, every step kept         {engine_pace(vehicle, inputs, step, every=1):7.0f} x real time")
    wheels = engine_pace(pick_up(), inputs, step, every=5)
    print(f"independent front, every 5. step{wheels:7.0f} x real time")
    taken = best(lambda: simulate(vehicle, road, speed=SPEED, rest=rest, every=5), repeats=5)
    print(f"simulate, road filtering included {seconds / taken:5.0f} x real time")
    for method, tolerance in (("RK45", 1e-3), ("LSODA", 1e-4)):
        theirs = SCIPY_SECONDS / best(by_scipy(inputs, step, tolerance=tolerance, method=method), repeats=2)
        print(f"solve_ivp {method} rtol {tolerance:g}: {theirs:6.1f} x real time, {ours / theirs:.0f} times slower")
    print(
        f"rest {1e3 * best(lambda: settle(vehicle), repeats=5):.1f} ms, tables and pack "
        f"{1e3 * best(lambda: pack(vehicle, lag=5e-4), repeats=5):.1f} ms, "
        f"linear twin {1e3 * best(lambda: linearise(vehicle, speed=SPEED), repeats=5):.1f} ms"
    )
    print(f"compiling all motion kernels {compile_time():.1f} s")


if __name__ == "__main__":
    main()
