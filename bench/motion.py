"""Time of the motion engine on both demo vehicles: times real time, and against SciPy and MuJoCo in pairs.

Run: python bench/motion.py. Pairs are timed turn by turn within one run and the least times compared, so that other
work on the machine slows both alike; waiting for a core is not counted. ``--quick`` leaves out the compile time.
"""

from __future__ import annotations

import argparse
import dataclasses
import os
import re
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from importlib.resources import as_file, files
from pathlib import Path

import numpy as np
from scipy.integrate import solve_ivp

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "mechanics" / "motion"))

from tussock.mechanics.arrays import Floats
from tussock.mechanics.motion import Packed, Rest, Vehicle, linearise, pack, road_inputs, settle
from tussock.mechanics.motion import kernels as k
from tussock.mechanics.motion.driver import NO_DRIVER
from tussock.mechanics.motion.rest import Evaluator
from tussock.mechanics.roads import Section, Track, build
from tussock.studies import loop, model
from tussock.studies.job import Job, open_job

DEMOS = ("tarn", "dunnock")
SPEED, STEP = 20.0, 1e-3
PAIR_SECONDS = 1.0  # of driving in each turn of a pair
LOOP_SECONDS = 600.0


def least(functions: dict[str, Callable[[], object]], *, turns: int) -> dict[str, float]:
    """Return the least time that each function keeps a core busy [s], all called in turn."""
    times: dict[str, list[float]] = {name: [] for name in functions}
    for _ in range(turns):
        for name, function in functions.items():
            begun = time.thread_time()
            function()
            times[name].append(time.thread_time() - begun)
    return {name: min(taken) for name, taken in times.items()}


def road_ahead(vehicle: Vehicle, *, seconds: float) -> Floats:
    """Return the stepper's inputs over a road of class D."""
    section = Section.of_class("D", name="bench", length=SPEED * seconds + 50.0, speed=SPEED)
    road: Track = build(section, track=1.5, seed=1)
    height, rate, slope = road_inputs(road, speed=SPEED, wheelbase=vehicle.wheelbase, step=STEP, contact_length=0.15)
    inputs = np.zeros((round(seconds / STEP), k.INPUTS))
    for first, part in ((k.IN_ROAD, height), (k.IN_RATE, rate), (k.IN_SLOPE, slope)):
        inputs[:, first : first + 4] = part[: len(inputs)]
    inputs[:, k.IN_SPEED] = SPEED
    return inputs


def stepper(packed: Packed, rest: Rest, inputs: Floats, *, every: int) -> Callable[[], object]:
    """Return a run of the stepper alone."""
    kept = inputs.shape[0] // every
    states, logs = np.zeros((k.POSITIONS + k.SPEEDS, kept)), np.zeros((k.LOG, kept))

    def run() -> None:
        q, u, local = rest.q.copy(), np.zeros(k.SPEEDS), rest.local.copy()
        done = k.run(q, u, local, inputs, STEP, every, *packed.arguments, states, logs, np.zeros(7), *NO_DRIVER)
        assert done == len(inputs)

    return run


def by_scipy(vehicle: Vehicle, rest: Rest, inputs: Floats, *, tolerance: float, method: str) -> Callable[[], object]:
    """Return a run by solve_ivp on the stepper's own right-hand side, inputs held between half steps."""
    evaluate = Evaluator(pack(vehicle, lag=0.0), lag=0.0)
    rate = np.zeros(k.POSITIONS)
    start = np.concatenate([rest.q, np.zeros(k.SPEEDS), rest.local])
    first, second = k.POSITIONS, k.POSITIONS + k.SPEEDS

    def slopes(t: float, y: Floats) -> Floats:
        row = inputs[min(int(t / STEP), inputs.shape[0] - 1)]
        q, u = y[:first].copy(), y[first:second].copy()
        acceleration = evaluate(q, u, y[second:].copy(), row)
        k.kinematics(q, u, float(row[k.IN_SPEED]), rate)
        return np.concatenate([rate, acceleration, evaluate.local_rate])

    return lambda: solve_ivp(slopes, (0.0, PAIR_SECONDS), start, method=method, rtol=tolerance, atol=1e-6)


def by_mujoco() -> dict[str, Callable[[], object]]:
    """Return runs of MuJoCo's own stepper on an equivalent vehicle: three bodies, eight rods, springs and dampers.

    Everything is the engine's own, nothing is called back: springs and dampers on its tendons; tyres left out (the
    vehicle falls), as plain frictionless contacts on a level plane, or as wheels that roll on it with friction, which
    is the equivalent: ours have side forces and spin too. One contact a wheel, the engine's default solver, 1 ms.
    """
    import mujoco
    from mujoco_vehicle import engine_text, linked_wagon

    linked = linked_wagon()
    text = engine_text(linked, timestep=STEP)
    text = re.sub(r"<option .*?</option>", f'<option timestep="{STEP}"/>', text)
    text = re.sub(r"<actuator>.*?</actuator>", "", text)
    for a, parts in enumerate(linked.vehicle.axles):
        for side in (0, 1):
            rate, free = parts.spring_rate[side], parts.spring_length[side]
            spring = f'<spatial name="spring_{a}_{side}"'
            text = text.replace(spring, f'{spring} stiffness="{rate}" springlength="{free}"')
            damper = f'<spatial name="damper_{a}_{side}"'
            text = text.replace(damper, f'{damper} damping="1800"')

    def stepping(source: str) -> Callable[[], object]:
        engine = mujoco.MjModel.from_xml_string(source)
        data = mujoco.MjData(engine)
        free = [int(engine.jnt_dofadr[i]) for i in range(engine.njnt) if engine.jnt_type[i] == 0]
        spin = [int(engine.jnt_dofadr[i]) for i in range(engine.njnt) if engine.jnt_type[i] == 3]

        def run() -> None:
            mujoco.mj_resetData(engine, data)
            data.qvel[free], data.qvel[spin] = SPEED, SPEED / radius
            mujoco.mj_step(engine, data, round(PAIR_SECONDS / STEP))
            assert np.isfinite(data.qpos).all()

        return run

    radius = linked.vehicle.front.tyre.free_radius
    place = r'<site name="wheel_\d_\d" pos="([^"]*)"/>'
    plane = '<worldbody><geom type="plane" size="0 0 1" condim="1"/>'
    ball = f'<geom type="sphere" size="{radius}" mass="0" '
    plain = re.sub(place, ball + r'pos="\1" condim="1"/>', text).replace("<worldbody>", plane)
    wheel = (
        r'<body pos="\1"><joint type="hinge" axis="0 1 0"/>'
        f'<inertial pos="0 0 0" mass="25" diaginertia="0.9 1.5 0.9"/>{ball}condim="3" friction="0.8"/></body>'
    )
    rolling = re.sub(place, wheel, text).replace("<worldbody>", plane)
    for parts in linked.vehicle.axles:  # what the wheels weigh the axles no longer do
        rolling = rolling.replace(f'mass="{parts.mass.mass}"', f'mass="{parts.mass.mass - 50.0}"')
        rolling = rolling.replace('diaginertia="56 9 57"', 'diaginertia="26 6 27"')
    return {
        "MuJoCo without tyres": stepping(text),
        "MuJoCo on frictionless contacts": stepping(plain),
        "MuJoCo on rolling wheels": stepping(rolling),
    }


def ten_minutes(job: Job) -> tuple[loop.LoopRoad, float]:
    """Return the demo's road loop with all sections longer, so that it takes ten minutes, and its time [s]."""
    road = loop.loop_road(job, job.setup())
    factor = LOOP_SECONDS / sum(s.length / s.mean_speed for s in road.sections)
    sections = tuple(dataclasses.replace(s, length=round(s.length * factor, 1)) for s in road.sections)
    roads = {s.name: build(s, track=1.5, seed=1) for s in sections}
    seconds = sum(s.length / s.mean_speed for s in sections)
    return dataclasses.replace(road, sections=sections, roads=roads), seconds


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


def one_demo(name: str) -> None:
    """Print the figures of one demo vehicle."""
    with as_file(files("tussock") / "data" / name) as folder:
        job = open_job(folder / "programme.yaml")
    vehicle, rest = model.vehicle(job, job.setup()), model.rest(job, job.setup())
    packed = pack(vehicle, lag=0.5 * STEP)
    long, short = road_ahead(vehicle, seconds=60.0), road_ahead(vehicle, seconds=PAIR_SECONDS)
    alone = least({str(every): stepper(packed, rest, long, every=every) for every in (2, 5)}, turns=9)
    for every, taken in alone.items():
        print(f"{name}: {60.0 / taken:6.0f} x real time, stepper alone, every {every}. step kept")
    ours = stepper(packed, rest, short, every=5)
    pairs = {"ours": ours, "RK45": by_scipy(vehicle, rest, short, tolerance=1e-3, method="RK45")}
    taken = least(pairs, turns=9)
    print(f"{name}: {taken['RK45'] / taken['ours']:6.0f} x faster than solve_ivp RK45, rtol 1e-3, same right-hand side")
    try:
        engines = by_mujoco()
    except ImportError:
        print("MuJoCo is not installed (extra test)")
    else:
        taken = least({"ours": ours, **engines}, turns=15)
        for engine in engines:
            print(f"{name}: {taken[engine] / taken['ours']:6.0f} x faster than {engine}, 1 ms")
    road, seconds = ten_minutes(job)
    taken = least({"loop": lambda: road.drive_all(vehicle, rest)}, turns=4)
    print(f"{name}: {taken['loop']:.2f} s for a loop of {seconds:.0f} s, measures included, one thread")
    parts = least(
        {
            "rest": lambda: settle(vehicle),
            "tables and packing": lambda: pack(vehicle, lag=0.5 * STEP),
            "linear twin": lambda: linearise(vehicle, speed=SPEED),
        },
        turns=5,
    )
    print(f"{name}: " + ", ".join(f"{part} {1e3 * time:.1f} ms" for part, time in parts.items()))


def main() -> None:
    """Print the figures."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--quick", action="store_true", help="leave out the compile time")
    asked = parser.parse_args()
    print(f"ISO 8608 class D, {SPEED:g} m/s, step 1 ms, one core; the demo vehicles are invented")
    for name in DEMOS:
        one_demo(name)
    if not asked.quick:
        print(f"compiling all motion kernels {compile_time():.1f} s")


if __name__ == "__main__":
    main()
