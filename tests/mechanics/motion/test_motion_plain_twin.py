"""The compiled stepper against the same source run by the interpreter, on both packaged vehicles, all data invented.

What is driven has all that the equations have at once: a rough road under one track and another under the other, brakes
with shares of their own and tyres near their limit, hands on and then off the wheel, a driver who steers, forces of the
air, friction everywhere, a frame that twists. A fused multiply-add rounds once where two operations round twice, so the
last digits differ.
"""

from __future__ import annotations

import dataclasses
import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from test_motion_demo import demo

from tussock.mechanics.arrays import Floats
from tussock.mechanics.motion import Frame, pack
from tussock.mechanics.motion import kernels as k
from tussock.mechanics.motion.driver import NO_DRIVER, Driver
from tussock.mechanics.motion.path import straight_path

STEPS, STEP, EVERY = 240, 1e-3, 12

RUN = """
import sys
import numpy as np
from tussock.mechanics.motion import kernels as k
given = np.load(sys.argv[1])
names = ("body", "axle", "wheel", "table", "grid", "inverse", "stops")
frame = given["frame"] if "frame" in given else None
kept = given["inputs"].shape[0] // int(given["every"])
states, logs = np.zeros((k.POSITIONS + k.SPEEDS, kept)), np.zeros((k.LOG, kept))
q, u, local, power = (given[name].copy() for name in ("q", "u", "local", "power"))
pilot = [given[f"pilot{i}"].copy() for i in range(4)]
done = k.run(
    q, u, local, given["inputs"].copy(), float(given["step"]), int(given["every"]), *(given[n] for n in names),
    k.CHANNELS, k.WHEELS, frame, states, logs, power, *pilot,
)
assert done == given["inputs"].shape[0], done
np.savez(sys.argv[2], states=states, logs=logs, power=power, local=local, plain=not hasattr(k.run, "py_func"))
"""


def driven(speed: float) -> Floats:
    """Inputs of a rough stretch, braked from the middle on, with wind and a turned hand wheel."""
    t = (np.arange(STEPS) + 0.5) * STEP
    inputs = np.zeros((STEPS, k.INPUTS))
    ramp = np.clip(t / 0.04, 0.0, 1.0)
    for n, (size, rate) in enumerate(((0.02, 70.0), (0.012, 90.0), (0.018, 60.0), (0.01, 110.0))):
        inputs[:, k.IN_ROAD + n] = size * ramp * np.sin(rate * t)
        inputs[:, k.IN_RATE + n] = np.gradient(inputs[:, k.IN_ROAD + n], STEP)
        inputs[:, k.IN_SLOPE + n] = inputs[:, k.IN_RATE + n] / speed
    inputs[:, k.IN_ACCELERATION] = np.where(t > 0.08, -4.5, 0.3)
    inputs[:, k.IN_SPEED] = speed + np.cumsum(inputs[:, k.IN_ACCELERATION]) * STEP
    inputs[:, k.IN_BRAKING] = np.clip((t - 0.08) / 0.02, 0.0, 1.0)
    inputs[:, k.IN_STEER] = 0.03 * np.sin(20.0 * t)
    inputs[:, k.IN_STEER_RATE] = 0.6 * np.cos(20.0 * t)
    inputs[:, k.IN_HANDS_OFF] = t > 0.16
    inputs[:, k.IN_HAND_MOMENT] = np.where(t > 0.16, 20.0, 0.0)
    wind = {k.IN_SIDE_FORCE: 900.0, k.IN_ROLL_MOMENT: -300.0, k.IN_YAW_MOMENT: 250.0, k.IN_FORWARD_FORCE: -400.0}
    for column, size in {**wind, k.IN_VERTICAL_FORCE: -200.0, k.IN_PITCH_MOMENT: 150.0}.items():
        inputs[:, column] = size * ramp
    return inputs


@pytest.mark.parametrize("twists", [False, True], ids=["rigid frame", "frame that twists"])
@pytest.mark.parametrize("steered", [False, True], ids=["hand wheel given", "driver"])
@pytest.mark.parametrize("name", ["tarn", "dunnock"])
def test_compiled_run_equals_the_plain_one(name: str, steered: bool, twists: bool, tmp_path: Path) -> None:
    this, speed = demo(name), 16.0
    vehicle = this.vehicle
    assert vehicle.steering is not None
    frame = Frame(stiffness=1.5e5, damping=0.05, front_share=0.5) if twists else None
    packed = pack(dataclasses.replace(vehicle, frame=frame), lag=0.5 * STEP)
    arrays = {n: getattr(packed, n) for n in ("body", "axle", "wheel", "table", "grid", "inverse", "stops")}
    if packed.frame is not None:
        arrays["frame"] = packed.frame
    pilot = NO_DRIVER
    if steered:
        ratio = vehicle.steering.ratio
        path = straight_path(y=0.8)  # the driver starts beside the path
        pilot = Driver().arrays(vehicle, path, step=STEP, start=0.0, ratio=ratio, speeds=(10.0, 17.0))
    given = tmp_path / "given.npz"
    inputs = driven(speed)
    np.savez(
        given, q=this.rest.q, u=np.zeros(k.SPEEDS), local=this.rest.local, power=np.zeros(7), inputs=inputs, step=STEP,
        every=EVERY, **arrays, **{f"pilot{i}": part for i, part in enumerate(pilot)},
    )  # fmt: skip
    found = []
    for off in ("0", "1"):
        out = tmp_path / f"{off}.npz"
        subprocess.run(
            [sys.executable, "-c", RUN, str(given), str(out)], check=True, env={**os.environ, "NUMBA_DISABLE_JIT": off}
        )
        found.append(np.load(out))
    compiled, plain = found
    assert plain["plain"]
    assert not compiled["plain"]
    log = compiled["logs"]
    assert np.abs(log[60:64]).max() > 1500.0  # the brakes hold
    assert np.ptp(log[57]) > 0.01  # the wheels steer
    assert (np.abs(compiled["states"][12]).max() > 1e-4) == twists
    worst = 0.0
    for part in ("states", "logs", "local", "power"):
        mine, theirs = compiled[part], plain[part]
        size = np.maximum(np.abs(theirs).max(axis=-1, keepdims=True), 1e-6)
        worst = max(worst, float((np.abs(mine - theirs) / size).max()))
    print(f"{name}: largest difference over the largest value of its kind {worst:.1e}")
    assert worst < 1e-11
