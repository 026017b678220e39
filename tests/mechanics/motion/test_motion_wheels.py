"""The moving vehicle on independent front wheels: laws of mechanics, a rigid-body engine, springs of every kind.

Outside checks: MuJoCo (a general-purpose rigid-body engine) for free flight on four double wishbones; Fancher, Ervin,
MacAdam, Winkler, SAE 800905 (1980, from memory) for friction between leaves.
"""

from __future__ import annotations

import dataclasses
import itertools

import mujoco
import numpy as np
import pytest
from motion_energy import body_axes, energy
from motion_vehicles import RADIUS, TRACK, TYRE, WHEELBASE, linear_damper, mirrored, track_rod_axle, wagon
from motion_wheels import (
    ACROSS,
    ALONG,
    WHEEL_MASS,
    free_flight,
    front_parts,
    hardpoints,
    pick_up,
    wheels_map,
)
from test_motion_conservation import balance, corrugation, inputs_over, rough_track, steered

from tussock.errors import DomainError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.mass import MassState
from tussock.mechanics.motion import Vehicle, linearise, march, pack, settle, simulate, springing
from tussock.mechanics.motion import kernels as k
from tussock.mechanics.motion.rest import Evaluator
from tussock.mechanics.springs import friction_loop


@pytest.mark.parametrize("case", ["rough", "one-sided corrugation", "steered", "torque on the uprights"])
def test_energy_closes_to_a_thousandth_of_the_damper_work(case: str) -> None:
    vehicle = pick_up(front={"axle": wheels_map(torque_on="upright")} if "torque" in case else None)
    inputs = {
        "rough": lambda: inputs_over(vehicle, rough_track(length=120.0), speed=18.0),
        "one-sided corrugation": lambda: inputs_over(vehicle, corrugation(one_side=True), speed=9.0),
        "steered": lambda: steered(vehicle),
        "torque on the uprights": lambda: inputs_over(vehicle, rough_track(length=120.0), speed=18.0),
    }[case]()
    gained, run = balance(vehicle, inputs)
    dampers = abs(float(run.work[2] + run.work[3]))
    print(f"{case}: {gained:.3f} J of {dampers:.0f} J damper work, {100 * abs(gained) / dampers:.4f} %")
    assert dampers > 10.0
    assert abs(gained) < 1e-3 * dampers


def bare(vehicle: Vehicle) -> Vehicle:
    """Return a vehicle without dampers, friction and tyre damping."""
    tyre = dataclasses.replace(TYRE, vertical_damping=0.0, carcass_time=0.0)
    ends = [
        dataclasses.replace(p, damper=linear_damper(0.0), tyre=tyre, spring_friction=0.0, friction_travel=0.0)
        for p in vehicle.axles
    ]
    return dataclasses.replace(vehicle, front=ends[0], rear=ends[1])


def test_drop_without_damping_keeps_its_energy() -> None:
    """Dropped 120 mm leaning, at a stand: wheels lift, stops are hit, side slip does work."""
    vehicle = bare(pick_up())
    packed, rest = pack(vehicle, lag=0.5e-3), settle(vehicle)
    q = rest.q.copy()
    q[3] += 0.12
    q[5] += 0.05
    inputs = np.zeros((3000, k.INPUTS))
    start = dataclasses.replace(rest, q=q)
    run = march(packed=packed, rest=start, inputs=inputs, step=1e-3, every=1, gravity=vehicle.gravity)
    before = energy(vehicle, packed, q=q, u=np.zeros(k.SPEEDS), speed=0.0, road=np.zeros(4))
    after = energy(vehicle, packed, q=run.position[-1], u=run.velocity[-1], speed=0.0, road=np.zeros(4))
    fallen = vehicle.total_mass * vehicle.gravity * 0.12
    gained = after - before - float(run.work.sum())
    print(f"drop: {gained:.3f} J of {fallen:.0f} J, {100 * abs(gained) / fallen:.4f} %")
    assert run.wheel_load.min() == 0.0
    assert run.stop_force[:, :2].max() > 1000.0
    assert abs(run.work[2]) < 1e-5
    assert abs(gained) < 1e-3 * fallen


def test_mirrored_vehicle_moves_as_the_mirror_image() -> None:
    vehicle, track = pick_up(), rough_track(length=90.0)
    swap = [1, 0, 3, 2]
    mirror = np.array([1, -1, -1, 1, 1, -1, 1, -1, 1, -1, -1, -1, -1])
    n = int(90.0 / 18.0 / 1e-3)
    steer = 0.02 * np.sin(2.0 * np.pi * np.arange(n) / 3000.0)
    here = simulate(vehicle, track, speed=18.0, steer=steer)
    there = simulate(mirrored(vehicle), track.mirrored(), speed=18.0, steer=-steer)
    size = np.ptp(here.position, axis=0)
    assert np.all(np.abs(there.position * mirror - here.position).max(0) <= 1e-9 * size)
    assert np.abs(there.wheel_load[:, swap] - here.wheel_load).max() < 1e-9 * np.ptp(here.wheel_load)


def test_halving_the_step_divides_the_error_by_four() -> None:
    """Without friction and impacts the scheme is of second order on independent wheels as well."""
    compression = np.linspace(0.0, 0.07, 64)
    smooth = {
        "damper": linear_damper(1800.0, gas=60.0, mount=9e5),
        "stop_compression": compression,
        "stop_force": 1e4 * compression,
        "stop_height": 0.02,
        "spring_friction": 0.0,
        "friction_travel": 0.0,
    }
    vehicle = pick_up(front=dict(smooth), rear=dict(smooth))
    rest, speed, total = settle(vehicle), 15.0, 1.2

    def march_with(step: float) -> Floats:
        t = (np.arange(round(total / step)) + 0.5) * step
        inputs = np.zeros((t.size, k.INPUTS))
        inputs[:, 12] = speed
        inputs[:, 14] = 0.02 * np.sin(2.0 * np.pi * 0.7 * t) ** 3
        for n, phase in enumerate((0.0, 0.9, 1.7, 2.2)):
            s = 2.0 * np.pi * 1.3
            inputs[:, n] = 0.012 * (1.0 - np.cos(s * t)) * np.cos(phase)
            inputs[:, 4 + n] = 0.012 * s * np.sin(s * t) * np.cos(phase)
            inputs[:, 8 + n] = inputs[:, 4 + n] / speed
        packed = pack(vehicle, lag=0.5 * step)
        every = round(0.02 / step)
        return march(packed=packed, rest=rest, inputs=inputs, step=step, every=every, gravity=vehicle.gravity).position

    runs = [march_with(h) for h in (1e-3, 5e-4, 2.5e-4)]
    errors = [np.sqrt(np.mean((a - b)[:, 3:] ** 2, axis=0)) for a, b in itertools.pairwise(runs)]
    moves = errors[1] > 0.0
    ratio = errors[0][moves] / errors[1][moves]
    print("error ratios on halving:", np.round(ratio, 2))
    assert np.all((ratio > 3.6) & (ratio < 4.4))


def momentum(vehicle: Vehicle, q: Floats, u: Floats, speed: float) -> Floats:
    """Return linear and angular momentum about the ground's origin in ground axes, and the energy."""
    packed = pack(vehicle, lag=0.0, friction=False)
    psi = q[2]
    turn = np.array([[np.cos(psi), -np.sin(psi), 0.0], [np.sin(psi), np.cos(psi), 0.0], [0.0, 0.0, 1.0]])
    rot = turn @ body_axes(q[4], q[5])
    place, w = np.array([q[0], q[1], q[3]]), u[:3]
    own = turn @ np.array([speed, u[3], u[4]])
    b = vehicle.body
    linear = b.mass * own
    angular = b.mass * np.cross(place, own) + rot @ (b.tensor @ w)
    for a, parts in enumerate(vehicle.axles):
        h, r, dh, dr = q[6 + 2 * a], q[7 + 2 * a], u[5 + 2 * a], u[6 + 2 * a]
        out = packed.axle_at(a, float(h), float(r))
        rate = out[1] * dh + out[2] * dr
        lump, inertia = parts.lumped
        half = 0.5 * parts.axle.track
        points, speeds = [], []
        for sign in (1.0, -1.0):
            arm = np.array([out[0, 0] + sign * out[0, 1], out[0, 2] + sign * out[0, 3], 0.0]) - b.centre
            arm[2] += parts.axle.centre_z0 + h + sign * half * np.sin(r)
            moving = np.array([rate[0] + sign * rate[1], rate[2] + sign * rate[3], dh + sign * half * np.cos(r) * dr])
            points.append(place + rot @ arm)
            speeds.append(own + rot @ (np.cross(w, arm) + moving))
            spin = w + np.array([rate[4] + sign * rate[5], rate[8], rate[6] + sign * rate[7]])
            angular += rot @ (0.5 * np.array(inertia) * spin)
        middle = 0.5 * (speeds[0] + speeds[1])
        linear += parts.mass.mass * middle
        angular += (parts.mass.mass - lump) * np.cross(0.5 * (points[0] + points[1]), middle)
        angular += sum(0.5 * lump * np.cross(x, v) for x, v in zip(points, speeds, strict=True))
    total = energy(vehicle, packed, q=q, u=u, speed=speed, road=np.zeros(4))
    return np.array([*linear, *angular, total])


def test_free_flight_keeps_momentum_and_energy() -> None:
    """Far above the road nothing acts from outside but weight, which is left out."""
    base = bare(pick_up())
    ends = [dataclasses.replace(p, spin_inertia=0.0, wheel_inertia=ACROSS) for p in base.axles]
    vehicle = dataclasses.replace(base, front=ends[0], rear=ends[1], gravity=0.0)
    q = np.array([0.0, 0.0, 0.2, 5.0, 0.05, -0.08, -0.01, 0.03, 0.02, -0.02, 0.0, 0.0, 0.0])
    u = np.array([0.6, 0.4, -0.3, 0.2, 0.1, 0.8, -0.9, -0.6, 0.7, 0.0, 0.0, 0.0])
    flight = free_flight(vehicle, q=q, u=u, speed=0.3, step=2.5e-4, steps=1200)
    first, last = (momentum(vehicle, flight.q[i], flight.u[i], float(flight.speed[i])) for i in (0, -1))
    scale = np.array([*[vehicle.total_mass] * 3, *[3000.0] * 3, first[6]])
    print("momentum and energy lost, over their size:", (last - first) / scale)
    assert np.abs(flight.q[-1, 6:] - q[6:]).max() > 0.01
    assert np.abs((last - first) / scale).max() < 1e-6


SPRING, LENGTH = 40e3, 0.40  # of each corner in the engine's flight; at kerb the spring is 18 mm longer


def four_wishbones() -> Vehicle:
    """Return a body on two pairs of wishbones, tie rods fixed, springs that push and pull, nothing else."""
    ends = []
    for shift in (0.0, -WHEELBASE):
        grid = wheels_map(shift=shift, torque_on="upright")
        stored = 0.5 * SPRING * np.sum((grid.spring - LENGTH) ** 2, axis=2)
        sprung = dataclasses.replace(grid, energy=grid.energy + stored)
        parts = front_parts(
            sprung, spring_rate=(0.0, 0.0), bar_rate=0.0, stop_height=0.0, spin_inertia=0.0, damper=linear_damper(0.0)
        )
        ends.append(dataclasses.replace(parts, spring_friction=0.0))
    body = MassState(mass=1460.0, centre=(-1.25, 0.0, 0.76), inertia=(560.0, 2350.0, 2450.0))
    return Vehicle(body=body, front=ends[0], rear=ends[1], gravity=0.0)


def engine_model(centre: Floats) -> str:
    """Return the same for MuJoCo: arms of 20 g on hinges, uprights on ball joints, loops closed by stiff connects."""

    def text(v: Floats) -> str:
        return " ".join(f"{x:.12g}" for x in v)

    light = '<inertial pos="0 0 0" mass="0.02" diaginertia="2e-4 2e-4 2e-4"/>'
    bodies, equal, tendons = "", "", ""
    for c, (shift, side) in enumerate(itertools.product((0.0, -WHEELBASE), (1.0, -1.0))):
        p = {name: point * np.array([1.0, side, 1.0]) - centre for name, point in hardpoints(shift).items()}
        low, top = p["lower_ball"], p["upper_ball"]
        front, rear = p["lower_arm_front"], p["lower_arm_rear"]
        above, behind = p["upper_arm_front"], p["upper_arm_rear"]
        wheel = p["wheel_centre"] - low
        upright = (
            f'<body name="u{c}" pos="{text(low - front)}"><inertial pos="{text(wheel)}" mass="{WHEEL_MASS}" '
            f'diaginertia="{ACROSS} {ALONG} {ACROSS}"/><joint type="ball"/><site name="w{c}" pos="{text(wheel)}"/>'
            "</body>"
        )
        bodies += (
            f'<body name="l{c}" pos="{text(front)}">{light}<joint type="hinge" axis="{text(front - rear)}"/>'
            f'<site name="s{c}" pos="{text(p["spring_lower_arm"] - front)}"/>{upright}</body>'
            f'<body name="a{c}" pos="{text(above)}">{light}<joint type="hinge" axis="{text(above - behind)}"/></body>'
            f'<body name="t{c}" pos="{text(p["tie_rod_inner"])}">{light}<joint type="ball" damping="1e-3"/></body>'
            f'<site name="c{c}" pos="{text(p["spring_chassis"])}"/>'
        )
        equal += f'<connect body1="a{c}" body2="u{c}" anchor="{text(top - above)}"/>'
        equal += f'<connect body1="t{c}" body2="u{c}" anchor="{text(p["tie_rod_outer"] - p["tie_rod_inner"])}"/>'
        tendons += (
            f'<spatial stiffness="{SPRING}" springlength="{LENGTH}"><site site="c{c}"/><site site="s{c}"/></spatial>'
        )
    return (
        '<mujoco><compiler angle="radian"/>'
        '<option timestep="5e-5" gravity="0 0 0" integrator="implicitfast" tolerance="1e-12" iterations="200"/>'
        '<default><equality solref="2e-4 1" solimp="0.9999 0.9999 0.001"/></default>'
        f'<worldbody><body name="body" pos="0 0 5"><freejoint/>'
        f'<inertial pos="0 0 0" mass="1460" diaginertia="560 2350 2450"/>{bodies}</body></worldbody>'
        f"<equality>{equal}</equality><tendon>{tendons}</tendon></mujoco>"
    )


def test_free_flight_against_a_rigid_body_engine() -> None:
    """A turning body lets go of compressed springs: places of body and wheels over 0.25 s, a swing and a half of them.

    The engine's arms weigh 20 g, its uprights turn about three axes; ours keep their inertia along the body's.
    """
    vehicle = four_wishbones()
    centre = np.array(vehicle.body.centre)
    turning, speed = np.array([0.5, 0.3, -0.4]), np.array([0.2, 0.1, 0.15])
    model = mujoco.MjModel.from_xml_string(engine_model(centre))
    data = mujoco.MjData(model)
    data.qvel[:3], data.qvel[3:6] = speed, turning
    step, steps = 1e-3, 250
    theirs = [np.zeros(0)] * 0
    names = [mujoco.mj_name2id(model, mujoco.mjtObj.mjOBJ_SITE, f"w{c}") for c in range(4)]
    for _ in range(steps):
        mujoco.mj_step(model, data, round(step / model.opt.timestep))
        mujoco.mj_forward(model, data)
        own = data.xmat[1].reshape(3, 3)
        travel = (data.site_xpos[names] - data.xpos[1]) @ own
        theirs.append(np.concatenate([data.xpos[1], own.ravel(), travel[:, 2]]))
    engine = np.array(theirs)

    q = np.zeros(k.POSITIONS)
    q[3] = 5.0
    u = np.array([*turning, speed[1], speed[2], *np.zeros(k.SPEEDS - 5)])
    flight = free_flight(vehicle, q=q, u=u, speed=float(speed[0]), step=step, steps=steps)
    ours = []
    for row in flight.q[1:]:
        psi = row[2]
        turn = np.array([[np.cos(psi), -np.sin(psi), 0.0], [np.sin(psi), np.cos(psi), 0.0], [0.0, 0.0, 1.0]])
        heights = [row[6 + 2 * a] + s * 0.5 * TRACK * np.sin(row[7 + 2 * a]) for a in (0, 1) for s in (1.0, -1.0)]
        height = RADIUS - centre[2] + np.array(heights)
        ours.append(np.concatenate([row[[0, 1, 3]], (turn @ body_axes(row[4], row[5])).ravel(), height]))
    off = np.abs(np.array(ours) - engine).max(axis=0)
    swing = float(np.ptp(engine[:, 12:], axis=0).min())
    print(f"body off by {1e3 * off[:3].max():.3f} mm and {1e3 * off[3:12].max():.3f} mrad, wheels by "
          f"{1e3 * off[12:].max():.3f} mm of {1e3 * swing:.0f} mm travel")  # fmt: skip
    assert swing > 0.04
    assert off[:3].max() < 0.01 * swing
    assert off[3:12].max() < 1e-3
    assert off[12:].max() < 0.01 * swing


def test_a_coil_given_as_force_or_energy_moves_the_vehicle_alike() -> None:
    """The same springs as a rate, as a force over length and as energy of the map."""
    coil = pick_up()
    front = coil.front
    rate, free = front.spring_rate[0], front.spring_length[0] - 0.5 * k.TOE  # a seated spring lacks half its soft start

    def force(length: Floats) -> Floats:
        return rate * (free - length)

    stored = 0.5 * rate * np.sum((free - front.axle.spring) ** 2, axis=2)
    by_force = dataclasses.replace(front, spring_rate=(0.0, 0.0), further_force=force)
    by_energy = dataclasses.replace(
        front,
        spring_rate=(0.0, 0.0),
        axle=dataclasses.replace(front.axle, energy=front.axle.energy + stored),
    )
    inputs = inputs_over(coil, rough_track(length=30.0), speed=18.0)
    runs = []
    for parts in (front, by_force, by_energy):
        vehicle = dataclasses.replace(coil, front=parts)
        rest = settle(vehicle)
        run = march(
            packed=pack(vehicle, lag=5e-4), rest=rest, inputs=inputs, step=1e-3, every=1, gravity=vehicle.gravity
        )
        modes = [linearise(vehicle, speed=15.0).mode(s).frequency for s in ("body heave", "front axle hop")]
        here = springing(parts, heave=float(rest.heave[0]), roll=float(rest.roll[0]))
        runs.append(np.concatenate([rest.q, run.position[-1], modes, [1e-6 * here.heave_rate, 1e-6 * here.roll_rate]]))
    assert np.abs(runs[1] - runs[0]).max() < 2e-5
    assert np.abs(runs[2] - runs[1]).max() < 1e-6


def test_helper_leaves_carry_beyond_their_touch() -> None:
    """Without helper the axle sinks until main leaves carry the load; with it, by the sum of both."""
    base = wagon()
    free, rate = base.rear.spring_length[0], base.rear.spring_rate[0]
    touch = free - 0.10

    def helper(length: Floats) -> Floats:
        # begins to carry over 40 mm, as leaves lie down one after another
        x = np.maximum(touch - length, 0.0)
        return 30e3 * np.where(x < 0.04, x**2 / 0.08, x - 0.02)

    helped = dataclasses.replace(base, rear=dataclasses.replace(base.rear, further_force=helper))
    plain, stiff = settle(base), settle(helped)
    lengths = stiff.spring_length[2:]
    bush = 0.5 * 3000.0  # of one side against heave
    carried = rate * (free - lengths - 0.5 * k.TOE) + helper(lengths) + bush * stiff.heave[1]
    without = rate * (free - plain.spring_length[2:] - 0.5 * k.TOE) + bush * plain.heave[1]
    assert np.all(helper(lengths) > 200.0)
    assert float(carried.sum()) == pytest.approx(float(without.sum()), rel=0.005)


def test_friction_of_springs_follows_its_published_loop() -> None:
    vehicle = pick_up(front={"spring_friction": 300.0, "friction_travel": 2e-3})
    evaluate = Evaluator(pack(vehicle, lag=0.0), lag=0.0)
    rest = settle(vehicle)
    heave = rest.q[6] + np.concatenate([np.linspace(0.0, 0.02, 801), np.linspace(0.02, -0.01, 1201)[1:]])
    local, forces, lengths = rest.local.copy(), [], []
    q = rest.q.copy()
    for a, b in itertools.pairwise(heave):
        q[6] = 0.5 * (a + b)
        u = np.zeros(k.SPEEDS)
        u[5] = b - a  # in one second
        evaluate(q, u, local, np.zeros(k.INPUTS))
        slope = evaluate.local_rate[8:].copy()
        half = local.copy()
        half[8:] += 0.5 * slope
        evaluate(q, u, half, np.zeros(k.INPUTS))
        local[8:] += evaluate.local_rate[8:]
        q[6] = b
        evaluate(q, u, local, np.zeros(k.INPUTS))
        forces.append(evaluate.log[52])
        lengths.append(evaluate.log[16])
    x = -np.array(lengths)
    published = friction_loop(x, np.zeros_like(x), half_width=300.0, reversal=2e-3, start=forces[0])
    assert np.abs(np.array(forces) - published).max() < 0.01 * 300.0
    assert max(forces) > 290.0
    assert min(forces) < -290.0


def test_torsion_bars_stand_as_springs_of_angle() -> None:
    """A bar's rate and twist go where a coil's rate and length went: twice the moment over the arm's slope holds up."""
    grid = wheels_map(springing="torsion bar")
    rate, twist = 9e3, 0.32
    vehicle = pick_up(front={"axle": grid, "spring_rate": (rate, rate), "spring_length": (twist, twist)})
    rest = settle(vehicle)
    here = springing(vehicle.front, heave=float(rest.heave[0]), roll=float(rest.roll[0]))
    unsprung = vehicle.front.mass.mass * vehicle.gravity
    gas = 2.0 * vehicle.front.damper.gas * 0.65
    assert rest.stop_force[:2].max() == 0.0
    assert here.force + gas == pytest.approx(rest.wheel_load[:2].sum() - unsprung, rel=0.02)
    assert 0.8 < linearise(vehicle, speed=15.0).mode("body heave").frequency < 2.0


def test_wheels_beyond_the_reach_of_their_linkage_are_told() -> None:
    """The corner of the grid lies inside the heave and roll, yet one wheel there is beyond what the linkage allows."""
    vehicle = pick_up()
    reach = vehicle.front.axle.reach
    evaluate = Evaluator(pack(vehicle, lag=0.0), lag=0.0)
    rest = settle(vehicle)
    step = float(np.diff(vehicle.front.axle.heave)[0])
    for heave, roll in ((-0.10, 0.0), (-0.13, 0.15), (-0.13, -0.15)):
        q = rest.q.copy()
        q[6], q[7] = heave, roll
        evaluate(q, np.zeros(k.SPEEDS), rest.local, np.zeros(k.INPUTS))
        lowest = heave - abs(0.5 * TRACK * np.sin(roll))
        assert evaluate.log[37] == pytest.approx(max(reach[0] - lowest, 0.0) / step, abs=1e-6)
    with pytest.raises(DomainError, match="outside the axle's map"):
        springing(vehicle.front, heave=0.2)


def test_two_masses_on_a_beam_are_a_beam() -> None:
    """A rigid axle without mass between its wheels is lumped as the wheels alone; what cannot be is refused."""
    x = -WHEELBASE
    beam = track_rod_axle(design_x=x, arm=-0.80, rod_body=(-0.42, 0.15), rod_axle=(0.44, 0.09), seat=0.48)
    lever = 2.0 * WHEEL_MASS * (0.5 * TRACK) ** 2
    base = wagon()
    mass = MassState(mass=2.0 * WHEEL_MASS, centre=(x, 0.0, RADIUS), inertia=(lever + 2.0, 3.0, lever + 2.0))
    parts = dataclasses.replace(base.rear, axle=beam, mass=mass, wheel_inertia=1.0)
    lump, own = parts.lumped
    assert lump == pytest.approx(2.0 * WHEEL_MASS)
    assert own == pytest.approx((2.0, 3.0, 2.0))
    with pytest.raises(DomainError, match="roll inertia"):
        dataclasses.replace(parts, wheel_inertia=lever)
    with pytest.raises(DomainError, match="friction of a spring"):
        dataclasses.replace(parts, spring_friction=100.0)
