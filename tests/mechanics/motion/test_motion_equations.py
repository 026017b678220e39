"""The compiled accelerations against Lagrange's equations derived by sympy, and the mass matrix.

Source: Lagrange's equations of the second kind, any textbook of analytical mechanics; sympy 1.13 or newer writes them.
"""

from __future__ import annotations

import dataclasses

import motion_lagrange as lagrange
import numpy as np
import pytest
from motion_vehicles import RADIUS, TRACK, WHEELBASE, linear_damper, wagon

from tussock.mechanics.arrays import Floats
from tussock.mechanics.axle_map import AxleMap
from tussock.mechanics.motion import Give, Steering, Vehicle, pack
from tussock.mechanics.motion import kernels as k
from tussock.mechanics.motion.frame import Frame
from tussock.mechanics.motion.rest import Evaluator
from tussock.mechanics.motion.steering import FRICTION_TURN
from tussock.mechanics.motion.vehicle import _BUSH_LAG

STEERING = Steering(
    inertia=3.2,
    stiffness=28e3,
    damping=40.0,
    damper=25.0,
    friction=30.0,
    caster=0.09,
    inclination=0.14,
    caster_offset=0.02,
    king_pin_offset=0.09,
    pitch=0.03,
    lean=(0.02, -0.01),
)
CHANNELS = (*lagrange.SHAPE, "spring0", "spring1", "damper0", "damper1", "stop0", "stop1", "bar")


def random_map(rng: np.random.Generator, design_x: float) -> tuple[AxleMap, dict[str, Floats]]:
    """Return a map whose channels are random cubics, plausible in size, and their coefficients.

    Nothing ties the wheels to each other or to roll: rigid axles and independent wheels are special cases.
    """
    heave, roll = np.linspace(-0.14, 0.14, 9), np.radians(np.linspace(-14.0, 14.0, 9))
    h, r = np.meshgrid(heave, roll, indexing="ij")
    start = {"spring": 0.29, "damper": 0.48, "stop": 0.14}
    slope = {"spring": -0.95, "damper": -0.9, "stop": -1.0}
    coefficients = {}
    for name in (*CHANNELS, "energy"):
        c = rng.normal(size=10) * np.array([0.2 if i + j == 1 else 0.5 for i, j in lagrange.CUBIC])
        kind = name.rstrip("01")
        c[0] = start.get(kind, 0.0)
        if kind in slope:
            c[lagrange.CUBIC.index((1, 0))] += slope[kind]
            c[lagrange.CUBIC.index((0, 1))] += -0.46 if name.endswith("0") else 0.46
        if kind in ("x", "y"):
            c[0] = design_x if kind == "x" else (0.5 - int(name[-1])) * TRACK
        if kind in ("lean", "bar"):
            c[lagrange.CUBIC.index((0, 1))] += 0.5
        if name == "bar":  # its square goes into a cubic table
            c = np.where([i + j < 2 for i, j in lagrange.CUBIC], c, 0.0)
        if name == "energy":
            c = np.where(np.arange(10) == lagrange.CUBIC.index((0, 2)), 9e3, 300.0 * c)
        coefficients[name] = c
    v = {n: lagrange.cubic(c, h, r) for n, c in coefficients.items()}
    both = {n: np.stack([v[f"{n}0"], v[f"{n}1"]], -1) for n in ("x", "y", "lean", "spring", "damper", "stop", "steer")}
    axle = AxleMap(
        heave=heave,
        roll=roll,
        centre_z0=RADIUS,
        design_x=design_x,
        track=TRACK,
        wheel_x=both["x"],
        wheel_y=both["y"],
        inclination=both["lean"],
        steer=both["steer"],
        pitch=v["pitch"],
        spring=both["spring"],
        damper=both["damper"],
        stop=both["stop"],
        bar=v["bar"],
        energy=v["energy"],
    )
    return axle, coefficients


def slopes(c: Floats, h: float, r: float) -> Floats:
    """Return the slopes of a cubic over h and r by complex steps."""
    e = 1e-30
    return np.array([lagrange.cubic(c, h + 1j * e, r).imag, lagrange.cubic(c, h, r + 1j * e).imag]) / e  # type: ignore[attr-defined]


def kinematic(q: Floats, u: Floats, speed: float) -> Floats:
    """Return the rates of the coordinates X, Y, Z, psi, theta, phi, h, r, h, r, steer, hand wheel, twist."""
    theta, phi, psi = q[4], q[5], q[3]
    turn = (u[1] * np.sin(phi) + u[2] * np.cos(phi)) / np.cos(theta)
    forward = speed * np.cos(psi) - u[3] * np.sin(psi)
    aside = speed * np.sin(psi) + u[3] * np.cos(psi)
    pitching = u[1] * np.cos(phi) - u[2] * np.sin(phi)
    return np.array([forward, aside, u[4], turn, pitching, u[0] + turn * np.sin(theta), *u[5:]])


def residual(vehicle: Vehicle, coefficients: list[dict[str, Floats]], rng: np.random.Generator) -> tuple[float, float]:
    """Return the largest residual of Lagrange's equations at a random state and the largest term in them."""
    axle_symbols, body_momentum, body_slope = lagrange.build()
    packed = pack(vehicle, lag=0.0)
    evaluate = Evaluator(packed, lag=0.0)
    twists = float(vehicle.frame is not None)
    q = np.array([3.0, -2.0, 0.75, *rng.normal(size=10) * [0.3, 0.06, 0.08, 0.03, 0.06, 0.03, 0.06, 0.1, 0.02, 0.05]])
    u = rng.normal(size=k.SPEEDS) * [0.8, 0.5, 0.6, 1.5, 0.6, 1.0, 1.5, 1.0, 1.5, 2.0, 1.0, 1.5]
    q[12], u[11] = twists * q[12], twists * u[11]
    local = np.concatenate(
        [rng.normal(size=4) * 1e-3, rng.normal(size=4) * 0.01, rng.normal(size=4) * 1e-3, rng.normal(size=10)]
    )
    local[12:] *= [1e3, 1e3, 1e3, 1e3, 3e3, 1e-3, 2e-3, 2e-3, 2e-3, 2e-3]
    inputs = np.zeros(k.INPUTS)
    inputs[:12] = np.concatenate(
        [rng.normal(size=4) * 0.01 + 0.015, rng.normal(size=4) * 0.5, rng.normal(size=4) * 0.03]
    )
    inputs[12:18] = (15.0, rng.normal(), 0.03 * rng.normal(), *rng.normal(size=3) * [800.0, 500.0, 500.0])
    inputs[18:22] = rng.normal(size=4) * [0.2, 500.0, 500.0, 500.0]
    apart = rng.normal(size=4) * 0.05
    inputs[k.IN_BRAKING], inputs[k.IN_SHARE : k.IN_SHARE + 4] = rng.uniform(), apart - apart.mean()
    inputs[k.IN_HANDS_OFF], inputs[k.IN_HAND_MOMENT] = 1.0, 30.0 * rng.normal()
    # the kernels order the coordinates X, Y, psi, z, theta, phi
    order = [0, 1, 3, 2, *range(4, k.POSITIONS)]
    acc = evaluate(np.ascontiguousarray(q[order]), u, local, inputs)
    log = evaluate.log
    speed, braking, hand = inputs[12], inputs[13], inputs[14]
    brakes = inputs[k.IN_BRAKING]
    gear = vehicle.steering
    assert gear is not None
    rate = kinematic(q, u, speed)
    e = 1e-30
    second = kinematic(q + 1j * e * rate, u + 1j * e * acc, speed + 1j * e * braking).imag / e

    balance = np.zeros(k.POSITIONS)  # momentum rate - slope of kinetic energy - generalised forces
    terms = [0.0]

    def take(index: list[int], values: Floats, turns: float = 0.0) -> None:
        balance[index] += values
        if turns != 0.0 and 5 in index:  # an end of the frame rolls by phi + turns * twist
            balance[12] += turns * values[index.index(5)]
        terms.append(float(np.abs(values).max()))

    b = vehicle.body
    body_parameters = (b.mass, *b.inertia, *(-p for p in b.products))
    head = list(range(6))
    along = (q + 1j * e * rate, rate + 1j * e * second)
    take(head, np.array(body_momentum(along[0][:9], along[1][:9], body_parameters)).imag / e)
    take(head, -np.array(body_slope(q[:9], rate[:9], body_parameters), dtype=float))
    psi = q[3]
    turn = np.array([[np.cos(psi), -np.sin(psi), 0.0], [np.sin(psi), np.cos(psi), 0.0], [0.0, 0.0, 1.0]])
    take([2], np.array([b.mass * vehicle.gravity]))
    side, rolling, yawing = inputs[15:18]
    ahead, up, pitching = inputs[19:22]
    take([0, 1, 2], -(turn @ [ahead, side, up]))
    # column between wheels and hand wheel, steering damper and friction
    held = -gear.stiffness * (q[10] - hand - q[11]) - gear.damping * (u[9] - inputs[18] - u[10])
    assert log[56] == pytest.approx(held, rel=1e-12)
    creep = u[9] - local[17] * abs(u[9]) / FRICTION_TURN
    assert evaluate.local_rate[17] == pytest.approx(creep, rel=1e-9)
    take([10], np.array([-held + gear.damper * u[9] + gear.friction * local[17] / FRICTION_TURN]))
    take([11], np.array([gear.hand_wheel * second[11] + held - inputs[k.IN_HAND_MOMENT]]))
    if vehicle.frame is not None:
        inertia = vehicle.frame.inertia(b.inertia[0])
        damping = 2.0 * vehicle.frame.damping * np.sqrt(vehicle.frame.stiffness * inertia)
        take([12], np.array([inertia * second[12] + damping * rate[12] + vehicle.frame.stiffness * q[12]]))
    for a, parts in enumerate(vehicle.axles):
        c, tyre = coefficients[a], parts.tyre
        index = [*head, 6 + 2 * a, 7 + 2 * a, 10]
        x, dx, ddx = q[index], rate[index], second[index]
        g = 0.0 if vehicle.frame is None else vehicle.frame.turns[a]
        for part, whole in ((x, q), (dx, rate), (ddx, second)):
            part[5] += g * whole[12]
        lump, own = parts.lumped
        pins: tuple[float, ...] = (0.0,) * 9
        if a == 0:
            angles = np.tan([gear.caster, gear.inclination])
            pins = (gear.inertia, *angles, gear.caster_offset, gear.king_pin_offset, 1.0, gear.pitch, *gear.lean)
        parameters = (
            parts.mass.mass,
            *own,
            *b.centre,
            parts.axle.centre_z0,
            0.5 * TRACK,
            lump,
            *pins,
            *(value for name in lagrange.SHAPE for value in c[name]),
        )
        momentum = axle_symbols.momentum(x + 1j * e * dx, dx + 1j * e * ddx, parameters)
        take(index, np.array(momentum).imag / e, g)
        take(index, -np.array(axle_symbols.slope(x, dx, parameters), dtype=float), g)
        centre = np.array(axle_symbols.centre_jacobian(x, parameters), dtype=float)
        take(index, parts.mass.mass * vehicle.gravity * centre[2], g)
        spin = np.array(axle_symbols.spin(x, parameters, 0.0), dtype=float)
        # body turned without the axle: its angular velocity is the axle's at no heave and roll rate
        if a == 0:
            take(head, -(turn @ [rolling, pitching, yawing]) @ spin[:, :6])
        h, r = x[6], x[7]
        joint = index[6:8]
        take(joint, slopes(c["energy"], h, r))
        twist = float(lagrange.cubic(c["bar"], h, r))  # type: ignore[arg-type]
        take(joint, parts.bar_rate * twist * slopes(c["bar"], h, r))
        # a wheel's momentum points along the body's y axis and turns with the wheel
        axis_rate = np.array([0.0, parts.spin_inertia * speed / tyre.free_radius, 0.0])
        to_world = body_axes(x)
        for s in (0, 1):
            n, sign = 2 * a + s, 1.0 - 2.0 * s
            turning = np.array(axle_symbols.spin(x, parameters, sign), dtype=float)
            turning[:, 8] += float(a == 0) * to_world[:, 2]
            knuckle = np.array(axle_symbols.turned(x, parameters, sign), dtype=float)
            omega_body = to_world.T @ (turning @ dx)
            take(index, (to_world @ np.cross(omega_body, axis_rate)) @ turning, g)
            length = float(lagrange.cubic(c[f"spring{s}"], h, r))  # type: ignore[arg-type]
            squeeze = parts.spring_length[s] - length
            spring = parts.spring_rate[s] * max(squeeze - 0.5 * k.TOE, 0.0)
            assert squeeze > k.TOE
            take(joint, -spring * slopes(c[f"spring{s}"], h, r))
            sliding = -float(slopes(c[f"spring{s}"], h, r) @ dx[6:8])
            creep = sliding - local[8 + n] * abs(sliding) / parts.friction_travel
            assert evaluate.local_rate[8 + n] == pytest.approx(creep, rel=1e-8, abs=1e-9)
            rub = parts.spring_friction * local[8 + n] / parts.friction_travel
            assert log[52 + n] == pytest.approx(rub, rel=1e-12)
            take(joint, -rub * slopes(c[f"spring{s}"], h, r))
            travel = np.array([1.0, sign * 0.5 * parts.axle.track * np.cos(r)])
            climbing = float(travel @ dx[6:8])
            creep = climbing - local[18 + n] * abs(climbing) / parts.bush_travel
            assert evaluate.local_rate[18 + n] == pytest.approx(creep, rel=1e-8, abs=1e-9)
            take(joint, parts.bush_friction * local[18 + n] / parts.bush_travel * travel)
            gap = float(lagrange.cubic(c[f"stop{s}"], h, r))  # type: ignore[arg-type]
            closing = -float(slopes(c[f"stop{s}"], h, r) @ dx[6:8])
            curve = np.interp(parts.stop_height - gap, parts.stop_compression, parts.stop_force)
            kept = 0.3 / (2.0 - 0.3) * closing / np.hypot(closing, k.CREEP)
            assert log[12 + n] == pytest.approx(curve * (1.0 + kept), rel=0.02, abs=5.0)
            take(joint, -log[12 + n] * slopes(c[f"stop{s}"], h, r))
            take(joint, -(log[8 + n] + parts.damper.gas) * slopes(c[f"damper{s}"], h, r))
            place = np.array(axle_symbols.wheel(x, parameters, sign), dtype=float)
            jacobian = np.array(axle_symbols.wheel_jacobian(x, parameters, sign), dtype=float)
            moving = turn.T @ (jacobian @ dx)
            pressed = tyre.free_radius - (place[2] - inputs[n])
            closing = inputs[4 + n] - moving[2]
            load = 0.0
            if pressed > tyre.toe:
                load = max(tyre.vertical_stiffness * (pressed - 0.5 * tyre.toe) + tyre.vertical_damping * closing, 0.0)
                assert log[n] == pytest.approx(load, rel=1e-9, abs=1e-6)
            load = log[n]
            lean, steer = (float(lagrange.cubic(c[f"{what}{s}"], h, r)) for what in ("lean", "steer"))  # type: ignore[arg-type]
            if a == 0:
                steer += q[10]
                lies = float(lagrange.cubic(c["pitch"], h, r)) - gear.pitch  # type: ignore[arg-type]
                leaned = lean - gear.lean[s]
                lean += (lies - np.tan(gear.caster)) * q[10]
            # bushes give under the side forces and the longitudinal one that they feel
            share = (
                0.5 * (parts.drive_share + brakes * (parts.brake_share - parts.drive_share)) + inputs[k.IN_SHARE + n]
            )
            pair = [n, 4 * a + 1 - n]
            asked = share * local[16]
            steer += np.dot(parts.give.steer, local[12:16][pair]) + parts.give.brake_steer[s] * asked
            lean += parts.give.inclination * local[12 + n]
            felt = (log[20 + n] - local[12 + n]) / _BUSH_LAG
            assert evaluate.local_rate[12 + n] == pytest.approx(felt, rel=1e-9, abs=1e-6)
            spun = np.array([-np.sin(steer) * np.cos(lean), np.cos(steer) * np.cos(lean), np.sin(lean)])
            axis = turn.T @ to_world @ spun
            heading = np.arctan2(-axis[0], axis[1])
            lever = packed.axle[a, 9]
            contact = moving[1] + lever * (turn.T @ (knuckle @ dx))[0]
            slide = contact * np.cos(heading) - moving[0] * np.sin(heading)
            rolled = moving[0] * np.cos(heading) + contact * np.sin(heading)
            pace = np.hypot(rolled, 2.0 * slide)
            sigma = tyre.relaxation_base + tyre.relaxation_gain * load
            sigma += parts.give.shift * tyre.cornering_stiffness * load / tyre.reference_load
            creep = -slide - local[4 + n] * pace / sigma
            assert evaluate.local_rate[4 + n] == pytest.approx(creep, rel=1e-8, abs=1e-9)
            lateral, aligning = log[20 + n], log[64 + n]
            room = np.sqrt(max(1.0 - asked**2 / ((tyre.friction * load) ** 2 + 1.0), 0.01))
            slip = (local[4 + n] + tyre.carcass_time * creep) / sigma - tyre.camber_gain * axis[2]
            if load > 0.0:
                assert lateral == pytest.approx(room * tyre.side_force(slip, load), rel=1e-8)
                assert aligning == pytest.approx(room * tyre.aligning_moment(slip, load), rel=1e-8, abs=1e-9)
            force = np.array([-load * inputs[8 + n] - lateral * np.sin(heading), lateral * np.cos(heading), load])
            couple = np.array([lever * force[1], 0.0, 0.0])
            take(index, -(turn @ force) @ jacobian - (turn @ couple) @ knuckle, g)
            # the aligning moment turns what the wheel is on about the body's upward axis
            take(index, -aligning * to_world[:, 2] @ turning, g)
            # traction along the wheel at the ground; its torque turns what takes it about the left direction
            pull = share * log[24] * np.array([np.cos(heading), np.sin(heading), 0.0])
            take(index, -(turn @ pull) @ jacobian - (turn @ [lever * pull[1], 0.0, 0.0]) @ knuckle, g)
            wound = to_world.T @ turning
            carried = parts.carries_drive + brakes * (float(parts.carries_brakes) - parts.carries_drive)
            wound[1, 6:8] = carried * slopes(c["pitch"], h, r)
            if a == 0 and parts.carries_brakes:
                wound[1, 8] = (-sign * np.tan(gear.inclination) - leaned) * brakes
            take(index, lever * pull[0] * (turn @ [0.0, 1.0, 0.0]) @ to_world @ wound, g)
    return float(np.abs(balance).max()), max(terms)


def body_axes(x: Floats) -> Floats:
    """Return the rotation from body to world axes."""
    rot = lagrange._rotation(*x[3:6])
    return np.array(rot.tolist(), dtype=float)


@pytest.mark.parametrize("frame", [None, Frame(stiffness=1.7e5, damping=0.04, front_share=0.4)])
def test_accelerations_solve_lagrange_equations(frame: Frame | None) -> None:
    rng = np.random.default_rng(11)
    worst = 0.0
    for _ in range(40):
        maps = [random_map(rng, 0.0), random_map(rng, -WHEELBASE)]
        base = wagon()
        ends = [
            dataclasses.replace(
                parts,
                axle=m[0],
                spring_length=(0.46 + 0.05, 0.46 + 0.05),
                damper=linear_damper(1800.0, friction=40.0, gas=60.0, mount=9e5),
                stop_height=0.10,
                drive_share=share,
                wheel_inertia=1.4,
                spring_friction=300.0,
                friction_travel=2.5e-3,
                bush_friction=90.0,
                bush_travel=6e-3,
                stop_loss=0.3,
                brake_share=braked,
                carries_drive=not braked > 0.5,
                give=Give(steer=(2e-6, -1e-6), inclination=3e-6, brake_steer=(1e-6, -2e-6), shift=1e-6),
            )
            for parts, m, share, braked in zip(base.axles, maps, (0.3, 0.7), (0.6, 0.4), strict=True)
        ]
        vehicle = dataclasses.replace(base, front=ends[0], rear=ends[1], steering=STEERING, frame=frame)
        left, scale = residual(vehicle, [m[1] for m in maps], rng)
        worst = max(worst, left / scale)
    print(f"residual over the largest term: {worst:.1e}")
    assert worst < 1e-10


def test_mass_matrix_is_symmetric_and_positive() -> None:
    """Unit forces answered by accelerations give a symmetric positive inverse mass matrix, the traction left out.

    With it the matrix is not symmetric: speed is held at the centre of mass, its reaction acts at the ground.
    """
    packed = pack(wagon(), lag=0.0)
    evaluate = Evaluator(packed, lag=0.0)
    q = np.array([0.0, 0.0, 0.0, 5.0, 0.04, -0.05, 0.03, 0.05, -0.02, -0.04, 0.0, 0.0, 0.0])  # wheels in the air
    theta, phi = q[4], q[5]
    rolls = np.array([np.cos(theta), np.sin(theta) * np.sin(phi), np.sin(theta) * np.cos(phi)])
    aside = np.array([0.0, np.cos(phi), -np.sin(phi)])
    yaws = np.array([-np.sin(theta), np.cos(theta) * np.sin(phi), np.cos(theta) * np.cos(phi)])

    def free(column: int | None) -> Floats:
        inputs = np.zeros(k.INPUTS)
        if column is not None:
            inputs[column] = 1.0
        evaluate(q, np.zeros(k.SPEEDS), np.zeros(k.LOCAL), inputs)
        solved = evaluate.solved
        body = solved[0] - evaluate.log[24] * solved[1]
        return np.array([aside @ body[3:], rolls @ body[:3], yaws @ body[:3]])

    compliance = np.array([free(column) - free(None) for column in (15, 16, 17)])  # side force, roll and yaw moment
    assert np.allclose(compliance, compliance.T, rtol=1e-9, atol=1e-12)
    assert np.linalg.eigvalsh(compliance).min() > 0.0
