"""The ends of the dampers' strokes as forces: against SciPy's stiff solver on the series written anew, energy, order.

Rebound stop and bottoming stop stand beside the oil, in series with the mounts.
"""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from motion_vehicles import front_map, linear_damper, rear_map, wagon
from scipy.integrate import solve_ivp
from scipy.interpolate import CubicSpline
from test_motion_conservation import balance, inputs_over, rough_track

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.motion import DamperParts, History, Vehicle, march, pack, settle
from tussock.mechanics.motion import kernels as k
from tussock.mechanics.roads import Track

TOP, BOTTOM, MOUNT, RATE, RUBS = 4e5, 3e6, 9e5, 1500.0, 40.0


def short(middle: float, *, mount: float = MOUNT, friction: float = RUBS) -> DamperParts:
    """A damper with 50 mm left to its open length and 45 mm to its closed one."""
    return linear_damper(
        RATE,
        mount=mount,
        friction=friction,
        open_length=middle + 0.050,
        closed_length=middle - 0.045,
        top_out_stiffness=TOP,
        bottom_stiffness=BOTTOM,
    )


def limited(**settings: float) -> Vehicle:
    """The wagon with short dampers, its bump stops too short to be met."""
    middle = [float(m.damper[7, 6].mean()) for m in (front_map(), rear_map())]
    front, rear = ({"damper": short(m, **settings), "stop_height": 0.02} for m in middle)
    return wagon(front=front, rear=rear)


def hump(height: float) -> Track:
    """A hump of 3 m, its left track met 1 m before the right."""
    x = np.arange(1201) * 0.02

    def over(at: float) -> Floats:
        return np.where(np.abs(x - at) < 1.5, 0.5 * height * (1.0 + np.cos(2.0 * np.pi * (x - at) / 3.0)), 0.0)

    return Track(spacing=0.02, left=over(6.0), right=over(7.0))


def driven(vehicle: Vehicle, step: float = 1e-3, *, height: float = 0.16, speed: float = 9.0) -> History:
    inputs = inputs_over(vehicle, hump(height), speed=speed, step=step)
    packed, rest = pack(vehicle, lag=0.5 * step), settle(vehicle)
    return march(packed=packed, rest=rest, inputs=inputs, step=step, every=1, gravity=vehicle.gravity)


def length_of(vehicle: Vehicle, run: History, n: int) -> CubicSpline:
    """Length of a damper over time, from the positions."""
    packed, a = pack(vehicle, lag=0.0), n // 2
    got = [packed.axle_at(a, *q[6 + 2 * a : 8 + 2 * a])[0, int(k.T_DAMPER) + n % 2] for q in run.position]
    return CubicSpline(run.time, got)


def stop_force(stiffness: float, x: float) -> float:
    """A stop that takes up its load over `k.TOE`, written anew."""
    if x <= 0.0:
        return 0.0
    return stiffness * (0.5 * x**2 / k.TOE if x < k.TOE else x - 0.5 * k.TOE)


@pytest.mark.parametrize("n", [0, 3])
def test_forces_are_those_of_the_series_by_a_stiff_solver(n: int) -> None:
    """k (x - s) + c (x' - s') = oil(s') + stops(s), s the rod's travel; x(t) is what the run did."""
    vehicle = limited(friction=0.0)
    run = driven(vehicle, step=5e-4)
    damper = vehicle.axles[n // 2].damper
    length = length_of(vehicle, run, n)
    pace = length.derivative()
    cm = damper.mount_damping

    def ends(rod_length: float) -> float:
        return stop_force(BOTTOM, damper.closed_length - rod_length) - stop_force(TOP, rod_length - damper.open_length)

    def slope(t: float, s: Floats) -> list[float]:
        """Rate of the rod's length."""
        through = MOUNT * (s[0] - float(length(t))) - cm * float(pace(t))
        return [-(through - ends(s[0])) / (RATE + cm)]

    times = run.force_time[(run.force_time > 0.3) & (run.force_time < 2.2)]
    first = int(np.argmin(np.abs(run.force_time - times[0])))
    # before the hump nothing moves: the rod is as long as the damper
    found = solve_ivp(
        slope, (times[0], times[-1]), [float(length(times[0]))], t_eval=times, method="Radau", rtol=1e-8, atol=1e-10
    )
    own = run.damper_end_force[first : first + times.size, n]
    wanted = np.array([ends(s) for s in found.y[0]])
    print(f"wheel {n}: {wanted.min():.0f} to {wanted.max():.0f} N, off by {np.abs(own - wanted).max():.1f} N")
    assert wanted.min() < -2000.0
    assert np.abs(own - wanted).max() < 0.02 * np.ptp(wanted)
    oil = np.array([-RATE * slope(t, [s])[0] for t, s in zip(times, found.y[0], strict=True)])
    assert np.abs(run.damper_force[first : first + times.size, n] - oil).max() < 0.03 * np.ptp(oil)


def test_a_hump_tops_dampers_out_and_bottoms_them() -> None:
    run = driven(limited(), height=0.2, speed=10.0)
    force = run.damper_end_force
    assert force.min() < -3000.0
    assert force.max() > 3000.0
    free = driven(wagon(front={"stop_height": 0.02}, rear={"stop_height": 0.02}), height=0.2, speed=10.0)
    assert np.all(free.damper_end_force == 0.0)


@pytest.mark.parametrize("mount", [MOUNT, 0.0, 4e6])
def test_energy_closes_with_dampers_at_their_ends(mount: float) -> None:
    """Mounts and stops give back what they take: at the end of the run, at rest on the road, they hold nothing."""
    vehicle = limited(mount=mount)
    track = rough_track()
    track = Track(spacing=track.spacing, left=2.0 * track.left, right=2.0 * track.right)
    gained, run = balance(vehicle, inputs_over(vehicle, track, speed=18.0))
    dampers = abs(float(run.work[2] + run.work[3]))
    print(f"mount {mount:g}: {gained:.2f} J of {dampers:.0f} J, {100 * abs(gained) / dampers:.3f} %")
    assert run.damper_end_force.min() < -1000.0
    assert abs(gained) < 2e-3 * dampers


@pytest.mark.parametrize(("mount", "friction"), [(MOUNT, RUBS), (0.0, 0.0)])
def test_a_step_of_1_ms_is_accurate_at_the_ends(mount: float, friction: float) -> None:
    """Of second order; dry friction between rigid mounts has none, with or without ends, and is left out there."""
    vehicle = limited(mount=mount, friction=friction)
    runs = [driven(vehicle, step) for step in (1e-3, 5e-4, 2.5e-4)]
    every = [run.position[n - 1 :: n] for run, n in zip(runs, (1, 2, 4), strict=True)]
    moves = np.ptp(every[2], axis=0)[3:10]
    errors = [np.abs((a - b)[:, 3:10]).max(axis=0) / moves for a, b in itertools.pairwise(every)]
    print("error of 1 ms and of half of it:", [f"{100 * e.max():.3f} %" for e in errors])
    assert errors[0].max() < 0.01
    assert errors[1].max() < 0.5 * errors[0].max()


def test_an_axle_that_hangs_stretches_mounts_and_stop_by_their_stiffness() -> None:
    """Closed form: k (over - p) = stop (p - toe / 2), p the stop's compression."""
    far = float(rear_map().damper[7, 6].mean())
    damper = linear_damper(
        RATE, mount=MOUNT, friction=30.0, gas=60.0, open_length=far - 0.05, closed_length=0.1, top_out_stiffness=TOP
    )
    vehicle = wagon(rear={"damper": damper})
    rest, packed = settle(vehicle), pack(vehicle, lag=0.0)
    assert rest.heave[1] > settle(wagon()).heave[1] + 0.005
    out = packed.axle_at(1, float(rest.heave[1]), float(rest.roll[1]))
    for side in (0, 1):
        length = out[0, int(k.T_DAMPER) + side]
        rod = packed.wheel_value(k.W_LD, 2 + side) - rest.local[2 + side]
        over = length - damper.open_length
        pressed = (MOUNT * over + 0.5 * TOP * k.TOE) / (MOUNT + TOP)
        assert over > 0.003
        assert rod - damper.open_length == pytest.approx(pressed, rel=1e-6)
        assert MOUNT * (length - rod) == pytest.approx(stop_force(TOP, pressed), rel=1e-6)
    # it stands still when it is let go in time
    run = march(
        packed=pack(vehicle, lag=5e-4), rest=rest, inputs=np.zeros((500, k.INPUTS)), step=1e-3, every=1, gravity=9.80665
    )
    assert np.abs(run.position[-1, 6:10] - rest.q[6:10]).max() < 1e-5


def test_oil_and_mounts_yield_in_series_and_stops_carry_beside_the_oil() -> None:
    """Closed forms; a topped-out axle hangs at the same length with and without oil that yields."""
    one = linear_damper(RATE, mount=1.1e6, oil=5.5e6)
    assert one.yields == pytest.approx(1.1e6 * 5.5e6 / 6.6e6)
    assert linear_damper(RATE, oil=5.5e6).yields == pytest.approx(5.5e6)
    assert linear_damper(RATE, mount=2e7).rigid
    assert linear_damper(RATE, mount=1.1e6, oil=2e7).yields == pytest.approx(1.1e6 * 2e7 / 2.11e7)
    assert linear_damper(RATE, mount=1.1e6).ends == pytest.approx((4e5, 4e6))
    far = float(rear_map().damper[7, 6].mean())
    hung = []
    for oil in (0.0, 5.5e6):
        damper = linear_damper(RATE, mount=MOUNT, oil=oil, open_length=far - 0.05, top_out_stiffness=TOP)
        hung.append(settle(wagon(rear={"damper": damper})).q)
        assert 1.0 / damper.yields + 1.0 / damper.ends[0] == pytest.approx(1.0 / MOUNT + 1.0 / TOP)
    np.testing.assert_allclose(hung[0], hung[1], atol=1e-5)  # the stop's soft start counts once more


@pytest.mark.parametrize(
    ("ends", "match"),
    [
        ({"open_length": 0.4, "closed_length": 0.5}, "longer open than closed"),
        ({"top_out_stiffness": 0.0}, "rebound stop has 0 N/mm"),
        ({"bottom_stiffness": 2e7}, "bottoming stop has 20000 N/mm"),
        ({"bottom_stiffness": math.nan}, "bottoming stop has nan"),
    ],
)
def test_ends_that_cannot_be_are_refused(ends: dict[str, float], match: str) -> None:
    with pytest.raises(DomainError, match=match):
        linear_damper(RATE, **ends)
