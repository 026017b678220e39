"""Laws that any mechanical system keeps: energy, mirror image, order of the time scheme, interpreter twin.

The bounds are the job's: energy closes to 0.1 % of the dampers' work, mirror images agree to 1e-10, halving the step
divides the error of a second-order scheme by four (3.6 to 4.4).
"""

from __future__ import annotations

import dataclasses
import itertools
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from motion_energy import energy
from motion_vehicles import TYRE, linear_damper, mirrored, wagon

from tussock.mechanics.arrays import Floats
from tussock.mechanics.motion import History, Vehicle, march, pack, road_inputs, settle, simulate
from tussock.mechanics.motion import kernels as k
from tussock.mechanics.motion.rest import Evaluator
from tussock.mechanics.roads import Section, Track, build


def rough_track(*, length: float = 240.0, road_class: str = "D", speed: float = 18.0, seed: int = 4) -> Track:
    """Return an invented rough road that begins and ends level."""
    track = build(Section.of_class(road_class, name="rough", length=length, speed=speed), track=1.5, seed=seed)
    x = track.distance
    fade = np.clip(np.minimum(x, track.length - x - 6.0) / 10.0, 0.0, 1.0)
    fade = fade**3 * (10.0 - 15.0 * fade + 6.0 * fade**2)
    return Track(spacing=track.spacing, left=track.left * fade, right=track.right * fade)


def corrugation(*, one_side: bool, length: float = 120.0) -> Track:
    """Return corrugations of 0.8 m wavelength and 12 mm amplitude."""
    x = np.arange(int(length / 0.02) + 1) * 0.02
    fade = np.clip(np.minimum(x - 4.0, length - x - 8.0) / 10.0, 0.0, 1.0)
    left = 0.012 * np.sin(2.0 * np.pi * x / 0.8) * fade**2 * (3.0 - 2.0 * fade)
    return Track(spacing=0.02, left=left, right=0.0 * left if one_side else left)


def balance(
    vehicle: Vehicle, inputs: Floats, *, step: float = 1e-3, velocity: Floats | None = None
) -> tuple[float, History]:
    """Return the energy that a run gains from nowhere [J], and the run."""
    packed, rest = pack(vehicle, lag=0.5 * step), settle(vehicle)
    run = march(packed=packed, rest=rest, inputs=inputs, step=step, every=1, gravity=vehicle.gravity)
    start = energy(
        vehicle,
        packed,
        q=rest.q,
        u=np.zeros(k.SPEEDS),
        speed=inputs[0, 12],
        road=np.zeros(4),
    )
    end = energy(
        vehicle,
        packed,
        q=run.position[-1],
        u=run.velocity[-1],
        speed=inputs[-1, 12],
        road=inputs[-1, :4],
        hand=inputs[-1, k.IN_STEER],
    )
    return end - start - float(run.work.sum()), run


def inputs_over(vehicle: Vehicle, track: Track, *, speed: float, step: float = 1e-3) -> Floats:
    """Return the kernel's inputs over a track."""
    height, rate, slope = road_inputs(
        track, speed=speed, wheelbase=vehicle.wheelbase, step=step, contact_length=TYRE.contact_length
    )
    inputs = np.zeros((height.shape[0], k.INPUTS))
    inputs[:, :4], inputs[:, 4:8], inputs[:, 8:12], inputs[:, 12] = height, rate, slope, speed
    return inputs


def steered(vehicle: Vehicle) -> Floats:
    """Return inputs of a lane change on a level road at 20 m/s."""
    t = (np.arange(4000) + 0.5) * 1e-3
    inputs = np.zeros((t.size, k.INPUTS))
    inputs[:, 12] = 20.0
    inside = (t > 0.2) & (t < 2.2)
    inputs[:, 14] = np.where(inside, 0.035 * np.sin(np.pi * (t - 0.2)) ** 3, 0.0)
    return inputs


@pytest.mark.parametrize("case", ["rough", "corrugation", "one-sided corrugation", "steered"])
def test_energy_closes_to_a_thousandth_of_the_damper_work(case: str) -> None:
    vehicle = wagon()
    inputs = {
        "rough": lambda: inputs_over(vehicle, rough_track(), speed=18.0),
        "corrugation": lambda: inputs_over(vehicle, corrugation(one_side=False), speed=9.0),
        "one-sided corrugation": lambda: inputs_over(vehicle, corrugation(one_side=True), speed=9.0),
        "steered": lambda: steered(vehicle),
    }[case]()
    gained, run = balance(vehicle, inputs)
    dampers = abs(float(run.work[2] + run.work[3]))
    print(f"{case}: {gained:.3f} J of {dampers:.0f} J damper work, {100 * abs(gained) / dampers:.4f} %")
    assert dampers > 10.0
    assert abs(gained) < 1e-3 * dampers


def undamped(*, stop_loss: float) -> Vehicle:
    """Return the wagon without dampers, friction or tyre damping."""
    tyre = dataclasses.replace(TYRE, vertical_damping=0.0, carcass_time=0.0)
    settings = {"damper": linear_damper(0.0), "tyre": tyre, "stop_loss": stop_loss}
    return wagon(front=settings, rear=settings)


@pytest.mark.parametrize("stop_loss", [0.0, 0.3])
def test_drop_without_damping_keeps_its_energy(stop_loss: float) -> None:
    """Dropped 120 mm with roll and pitch speed, at a stand: wheels lift, stops are hit, side slip does work."""
    vehicle = undamped(stop_loss=stop_loss)
    packed, rest = pack(vehicle, lag=0.5e-3), settle(vehicle)
    q = rest.q.copy()
    q[3] += 0.12
    q[5] += 0.05
    start = dataclasses.replace(rest, q=q)
    inputs = np.zeros((3000, k.INPUTS))
    run = march(packed=packed, rest=start, inputs=inputs, step=1e-3, every=1, gravity=vehicle.gravity)
    road = np.zeros(4)
    before = energy(vehicle, packed, q=q, u=np.zeros(k.SPEEDS), speed=0.0, road=road)
    after = energy(vehicle, packed, q=run.position[-1], u=run.velocity[-1], speed=0.0, road=road)
    fallen = vehicle.total_mass * vehicle.gravity * 0.12
    gained = after - before - float(run.work.sum())
    print(f"drop: {gained:.3f} J of {fallen:.0f} J, {100 * abs(gained) / fallen:.4f} %")
    assert run.wheel_load.min() == 0.0
    assert run.stop_force.max() > 1000.0
    if stop_loss == 0.0:
        assert abs(run.work[2]) < 1e-5
    else:
        assert run.work[2] < -0.02 * fallen
    assert abs(gained) < 1e-3 * fallen


@pytest.mark.parametrize("loss", [0.1, 0.25, 0.4])
def test_a_stop_keeps_its_share_of_a_fast_compression(loss: float) -> None:
    """By definition: work got back over work put in is 1 - loss; pressed slowly the stop is its curve."""
    evaluate = Evaluator(pack(wagon(front={"stop_loss": loss}), lag=0.0), lag=0.0)

    def stop(speed: float) -> tuple[Floats, Floats, Floats]:
        """Return compression, force and closing speed of the front left stop, pressed and let go at a speed."""
        seen = []
        heaves = np.linspace(0.05, 0.11, 601)
        for heave, way in [(h, 1.0) for h in heaves] + [(h, -1.0) for h in heaves[::-1]]:
            q, u = np.zeros(k.POSITIONS), np.zeros(k.SPEEDS)
            q[3], q[6], u[5] = 5.0, heave, way * speed
            evaluate(q, u, np.zeros(k.LOCAL), np.zeros(k.INPUTS))
            seen.append((evaluate.log[48], evaluate.log[12], evaluate.log[38]))
        press, force, closing = np.array(seen).T
        return press, force, closing

    press, force, _ = stop(20.0 * k.CREEP)
    put, got = (np.trapezoid(force[half], press[half]) for half in (slice(601), slice(1201, 600, -1)))
    assert got / put == pytest.approx(1.0 - loss, rel=2e-3)
    assert put > 20.0
    slow = stop(1e-6 * k.CREEP)[1]
    np.testing.assert_allclose(slow[:601], slow[601:][::-1], rtol=1e-5, atol=1e-9)
    np.testing.assert_allclose(slow[:601], 0.5 * (force[:601] + force[601:][::-1]), rtol=1e-5, atol=1e-6)


def test_mirrored_vehicle_moves_as_the_mirror_image() -> None:
    vehicle, track = wagon(), rough_track(length=120.0)
    swap = [1, 0, 3, 2]
    mirror = np.array([1, -1, -1, 1, 1, -1, 1, -1, 1, -1, -1, -1, -1])
    n = int(120.0 / 18.0 / 1e-3)
    steer = 0.02 * np.sin(2.0 * np.pi * np.arange(n) / 3000.0)
    here = simulate(vehicle, track, speed=18.0, steer=steer)
    there = simulate(mirrored(vehicle), track.mirrored(), speed=18.0, steer=-steer)
    assert np.abs(here.position[:, 1]).max() > 0.3
    size = np.ptp(here.position, axis=0)
    assert np.all(np.abs(there.position * mirror - here.position).max(0) <= 1e-10 * size)
    assert np.abs(there.wheel_load[:, swap] - here.wheel_load).max() < 1e-10 * np.ptp(here.wheel_load)


def test_halving_the_step_divides_the_error_by_four() -> None:
    """On a smooth road with everything but friction and impacts the scheme is of second order."""
    compression = np.linspace(0.0, 0.07, 64)
    smooth = {
        "damper": linear_damper(1800.0, gas=60.0, mount=9e5),
        "stop_compression": compression,
        "stop_force": 1e4 * compression,
        "stop_height": 0.02,
    }
    vehicle = wagon(front=dict(smooth), rear=dict(smooth))
    rest = settle(vehicle)
    speed, total = 15.0, 2.4

    def march_with(step: float) -> Floats:
        t = (np.arange(round(total / step)) + 0.5) * step
        inputs = np.zeros((t.size, k.INPUTS))
        inputs[:, 12] = speed
        inputs[:, 14] = 0.02 * np.sin(2.0 * np.pi * 0.7 * t) ** 3
        for n, phase in enumerate((0.0, 0.9, 1.7, 2.2)):
            s = 2.0 * np.pi * 1.3
            inputs[:, n] = 0.012 * (1.0 - np.cos(s * t)) * np.cos(phase) + 0.004 * np.sin(s * t) ** 2 * np.sin(phase)
            inputs[:, 4 + n] = 0.012 * s * np.sin(s * t) * np.cos(phase) + 0.004 * s * np.sin(2 * s * t) * np.sin(phase)
            inputs[:, 8 + n] = inputs[:, 4 + n] / speed
        every = round(0.02 / step)
        packed = pack(vehicle, lag=0.5 * step)
        return march(packed=packed, rest=rest, inputs=inputs, step=step, every=every, gravity=vehicle.gravity).position

    runs = [march_with(h) for h in (2e-3, 1e-3, 5e-4, 2.5e-4)]
    errors = [np.sqrt(np.mean((a - b)[:, 3:] ** 2, axis=0)) for a, b in itertools.pairwise(runs)]
    for coarse, fine in itertools.pairwise(errors):
        moves = fine > 0.0
        ratio = coarse[moves] / fine[moves]
        print("error ratios on halving:", np.round(ratio, 2))
    assert np.all((ratio > 3.6) & (ratio < 4.4))


TWIN = """
import numpy as np
import sys
sys.path.insert(0, {here!r})
from motion_vehicles import wagon
from test_motion_conservation import corrugation
from tussock.mechanics.motion import simulate
run = simulate(wagon(), corrugation(one_side=True, length=9.0), speed=9.0, every=20,
    steer=np.linspace(0.0, 0.03, 1000))
np.save({out!r}, np.concatenate([run.position.ravel(), run.wheel_load.ravel(), run.damper_force.ravel()]))
"""


def test_compiled_run_equals_the_plain_python_one(tmp_path: Path) -> None:
    here = str(Path(__file__).parent)
    results = []
    for off in ("0", "1"):
        out = str(tmp_path / f"{off}.npy")
        subprocess.run(
            [sys.executable, "-c", TWIN.format(here=here, out=out)],
            check=True,
            env={**os.environ, "NUMBA_DISABLE_JIT": off},
        )
        results.append(np.load(out))
    compiled, plain = results
    assert np.abs(plain).max() > 100.0
    np.testing.assert_allclose(compiled, plain, rtol=1e-9, atol=1e-9)
