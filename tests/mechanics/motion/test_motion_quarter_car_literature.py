"""The quarter car on white-noise road speed: closed forms, Lyapunov's equation, the full vehicle in time.

Sources
-------
[1] Gobbi, Mastinu, J. Sound Vib. 245(3), 2001, 457-481: analytical mean squares of exactly this model (title and
    abstract seen; the forms were derived again from Lyapunov's equation and checked by frequency integration).
[2] Parameter set B, in use since Chalasani 1986 (from memory); golden car of the International Roughness Index,
    ASTM E1926 (inputs checked).
[3] ISO 8608:2016: road classes by displacement density at 0.1 cycles/m; geometric means of the classes (from memory).

The printed figures below carry nine digits, so they are held to 1e-8.
"""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from motion_vehicles import TRACK, TYRE, linear_damper
from scipy.linalg import solve_continuous_lyapunov

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.axle_map import AxleMap
from tussock.mechanics.mass import GRAVITY, MassState
from tussock.mechanics.motion import (
    AxleParts,
    LinearModel,
    QuarterCar,
    Vehicle,
    least_acceleration_damping,
    least_tyre_damping,
    linearise,
    march,
    mean_squares,
    pack,
    quarter_car_modes,
    road_intensity,
    settle,
)
from tussock.mechanics.motion import kernels as k
from tussock.mechanics.motion.kernels import TOE

pytestmark = pytest.mark.literature

A = QuarterCar(sprung=1.0, unsprung=0.15, spring=63.3, tyre=653.0, damping=6.0)
B = QuarterCar(sprung=240.0, unsprung=36.0, spring=16e3, tyre=160e3, damping=980.0)
C = QuarterCar(sprung=500.0, unsprung=80.0, spring=35e3, tyre=250e3, damping=3000.0)

# case, roughness [m^3], speed [m/s], q, acceleration, suspension, tyre, rms of suspension speed and of tyre force,
# body speed, wheel speed
PRINTED = [
    (A, 256e-6, 80 / 3.6, 1.12294166e-3, 2.63104514, 1.07615242e-4, 1.90673344e-5, 0.247198, 2.85140,
     1.05570577e-2, 5.80397098e-2),
    (B, 64e-6, 100 / 3.6, 3.50919268e-4, 0.697263057, 4.94151622e-5, 7.03779445e-6, 0.169253, 424.461,
     4.06742586e-3, 2.61252084e-2),
    (C, 4096e-6, 40 / 3.6, 8.98353325e-3, 17.7305001, 8.68408214e-4, 1.76308399e-4, 0.611812, 3319.53,
     9.35387043e-2, 0.346275440),
]  # fmt: skip


@pytest.mark.parametrize("row", PRINTED, ids=["A golden car", "B", "C"])
def test_closed_forms_give_the_tabled_mean_squares(row: tuple[QuarterCar, *tuple[float, ...]]) -> None:
    car, roughness, speed, q, acceleration, travel, tyre, rms_travel_speed, rms_force, body, wheel = row
    assert road_intensity(roughness=roughness, speed=speed) == pytest.approx(q, rel=1e-8)
    m = mean_squares(car, intensity=road_intensity(roughness=roughness, speed=speed))
    assert m.acceleration == pytest.approx(acceleration, rel=1e-8)
    assert m.travel == pytest.approx(travel, rel=1e-8)
    assert m.tyre_deflection == pytest.approx(tyre, rel=1e-8)
    assert m.body_speed == pytest.approx(body, rel=1e-8)
    assert m.wheel_speed == pytest.approx(wheel, rel=1e-8)
    assert np.sqrt(m.travel_speed) == pytest.approx(rms_travel_speed, rel=3e-6)  # six digits printed
    assert np.sqrt(m.tyre_force) == pytest.approx(rms_force, rel=3e-6)
    assert m.damper_power == pytest.approx(car.damping * m.travel_speed, rel=1e-14)


def test_case_u_of_unit_intensity() -> None:
    m = mean_squares(B, intensity=1.0)
    assert m.acceleration == pytest.approx(1986.96145, abs=6e-6)
    assert m.travel == pytest.approx(0.140816327, abs=6e-10)
    assert m.tyre_deflection == pytest.approx(0.0200553093, abs=6e-11)


def test_best_dampings_of_case_b() -> None:
    assert least_acceleration_damping(B) == pytest.approx(664.530, abs=6e-4)
    assert least_tyre_damping(B) == pytest.approx(1948.14, abs=6e-3)
    assert B.damping_ratio == pytest.approx(0.250052, abs=6e-7)


def test_modes_of_golden_car_and_set_b() -> None:
    """Damped modes as tabled, computed apart from the project: to the printed digits."""
    (body, zeta), (hop, zeta_hop) = quarter_car_modes(A)
    assert (body, zeta, hop, zeta_hop) == pytest.approx((1.23630, 0.333432, 10.7554, 0.302018), rel=6e-6)
    (body, zeta), (hop, zeta_hop) = quarter_car_modes(B)
    assert (body, zeta, hop, zeta_hop) == pytest.approx((1.25065, 0.217823, 11.0247, 0.201257), rel=6e-6)


def test_overdamped_quarter_car_has_no_swinging_body() -> None:
    with pytest.raises(DomainError, match="no longer swings"):
        quarter_car_modes(dataclasses.replace(B, damping=2e4))


def four_quarter_cars(car: QuarterCar, *, toe: float = 2e-3) -> Vehicle:
    """Return a vehicle that is four equal quarter cars: straight guidance, linear, rigid mounts, undamped tyres."""
    heave, roll = np.linspace(-0.15, 0.15, 9), np.linspace(-0.2, 0.2, 9)
    h, r = np.meshgrid(heave, roll, indexing="ij")
    tyre = dataclasses.replace(TYRE, vertical_stiffness=car.tyre, vertical_damping=0.0, toe=toe)
    load = car.sprung * GRAVITY / car.spring
    deflection = tyre.deflection((car.sprung + car.unsprung) * GRAVITY)
    z0 = tyre.free_radius - deflection  # at rest the axles stand at design

    def end(x: float) -> AxleParts:
        length = np.stack([0.4 - h - 0.75 * r, 0.4 - h + 0.75 * r], -1)
        flat = np.zeros_like(h)
        axle = AxleMap.of_rigid(
            heave=heave, roll=roll, centre_x=flat + x, centre_y=flat, centre_z0=z0, design_x=x, pitch=flat, yaw=flat,
            spring=length, damper=length, stop=length + 0.5, steer=np.zeros((*h.shape, 2)), energy=flat, track=TRACK,
        )  # fmt: skip
        mass = 2.0 * car.unsprung
        return AxleParts(
            axle=axle,
            mass=MassState(mass=mass, centre=(x, 0.0, z0), inertia=(0.3 * mass, 0.1 * mass, 0.3 * mass)),
            spin_inertia=0.0,
            spring_rate=(car.spring, car.spring),
            spring_length=(0.4 + load + 0.5 * TOE, 0.4 + load + 0.5 * TOE),
            stop_height=0.1,
            stop_compression=np.linspace(0.0, 0.1, 8),
            stop_force=np.linspace(0.0, 1e5, 8),
            damper=linear_damper(car.damping),
            bar_rate=0.0,
            tyre=tyre,
        )

    body = 4.0 * car.sprung
    return Vehicle(
        body=MassState(mass=body, centre=(-1.35, 0.0, 0.7), inertia=(0.4 * body, 1.6 * body, 1.7 * body)),
        front=end(0.0),
        rear=end(-2.7),
    )


def symmetric_heave(model: LinearModel) -> tuple[Floats, list[str]]:
    """Return the part of the twin that moves straight up and down, in the states [h, d, w, dh]; road level.

    h is the axles' heave, d the tyres' deflection from rest, w the body's speed, dh the heave rate.
    """
    index = {name: i for i, name in enumerate(model.states)}
    n = len(model.states)
    lift = np.zeros((n, 4))
    # height = -h - d: the wheel stands d lower than at rest, the body h lower than the wheel
    lift[index["height"], :2] = -1.0
    for end in ("front", "rear"):
        lift[index[f"{end} heave"], 0] = 1.0
        lift[index[f"{end} heave rate"], 3] = 1.0
    lift[index["vertical speed"], 2] = 1.0
    rates = model.a @ lift
    rows = [index["front heave"], index["height"], index["vertical speed"], index["front heave rate"]]
    small = rates[rows]
    small[1] = -rates[index["height"]] - rates[index["front heave"]]
    # nothing else moves along: the reduction is exact
    kept = {*rows, index["rear heave"], index["rear heave rate"]}
    others = [i for i in range(n) if i not in kept]
    assert np.abs(rates[others]).max() < 1e-6 * np.abs(rates).max()
    np.testing.assert_allclose(rates[index["rear heave rate"]], rates[index["front heave rate"]], rtol=1e-7, atol=1e-6)
    return small, ["h", "d", "w", "dh"]


@pytest.mark.parametrize(
    "car", [B, C, QuarterCar(sprung=380.0, unsprung=72.0, spring=23e3, tyre=240e3, damping=1800.0)]
)
def test_linear_twin_of_four_quarter_cars_by_lyapunov(car: QuarterCar) -> None:
    """Mean squares of the full vehicle's linear twin by SciPy's Lyapunov solver against the closed forms: 1e-6."""
    model = linearise(four_quarter_cars(car), speed=0.0)
    a, _ = symmetric_heave(model)
    intensity = np.array([0.0, 1.0, 0.0, 0.0])  # white noise in the road's speed deflects the tyre
    covariance = solve_continuous_lyapunov(a, -np.outer(intensity, intensity))
    expected = mean_squares(car, intensity=1.0)
    acceleration = a[2]
    found = {
        "acceleration": acceleration @ covariance @ acceleration,
        "travel": covariance[0, 0],
        "travel_speed": covariance[3, 3],
        "tyre_deflection": covariance[1, 1],
        "body_speed": covariance[2, 2],
        "wheel_speed": covariance[2, 2] + 2.0 * covariance[2, 3] + covariance[3, 3],
    }
    for name, value in found.items():
        miss = value / getattr(expected, name) - 1.0
        print(f"{name}: {miss:+.1e}")
        assert abs(miss) < 1e-6, name


def test_engine_in_time_on_white_noise() -> None:
    """800 s of white road speed through the compiled engine; the mean squares within the spread that chance allows.

    The bound is four standard errors, from 40 blocks of 20 s, so that a right engine fails once in some 16,000 runs
    of other seeds for each figure; the seed is fixed. The step's own error adds below 1 %, the low-pass of the white
    noise at the step less.
    """
    car = QuarterCar(sprung=380.0, unsprung=72.0, spring=23e3, tyre=240e3, damping=1800.0)
    vehicle = four_quarter_cars(car)
    step, blocks, block = 1e-3, 40, 20.0
    n = round(blocks * block / step)
    rng = np.random.default_rng(20)
    q = road_intensity(roughness=32e-6, speed=12.0)  # small enough that no wheel lifts and nothing touches
    rate = rng.normal(size=n) * np.sqrt(q / step)
    height = np.cumsum(rate) * step - 0.5 * rate * step
    inputs = np.zeros((n, k.INPUTS))
    inputs[:, :4], inputs[:, 4:8] = height[:, None], rate[:, None]
    run = march(
        packed=pack(vehicle, lag=0.5 * step),
        rest=settle(vehicle),
        inputs=inputs,
        step=step,
        every=1,
        gravity=vehicle.gravity,
    )
    still = settle(vehicle)
    assert run.wheel_load.min() > 100.0
    assert run.stop_force.max() == 0.0
    series = {
        "acceleration": run.centre_acceleration[:, 2],
        "travel": run.position[:, 6] - still.heave[0],
        "travel_speed": run.velocity[:, 5],
        "tyre_force": run.wheel_load[:, 0] - still.wheel_load[0],
        "body_speed": run.velocity[:, 4],
        "wheel_speed": run.velocity[:, 4] + run.velocity[:, 5],
    }
    expected = mean_squares(car, intensity=q)
    for name, values in series.items():
        squares = (values[round(block / step) :] ** 2).reshape(blocks - 1, -1).mean(1)
        mean, error = squares.mean(), squares.std(ddof=1) / np.sqrt(blocks - 1)
        target = getattr(expected, name)
        print(f"{name}: {mean / target - 1.0:+.2%} +- {error / target:.2%}")
        assert abs(mean - target) < 4.0 * error, name
        assert error < 0.06 * target
