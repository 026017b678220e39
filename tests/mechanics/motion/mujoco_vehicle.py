"""An invented wagon on links twice: as our vehicle from the linkage's maps, and as a model for a rigid-body engine.

The engine is MuJoCo (general purpose). It gets three free bodies and eight rods of fixed length between the same
hardpoints; springs, dampers and stops act along the lines between their seats, anti-roll bars and gyroscopic couples on
the bodies, tyres at the wheels. Nothing of ours but the laws of single forces goes in: no map, no roll centre.

Forces are computed between the engine's `mj_step1` and `mj_step2`, from the poses of the same instant; read one step
late they would act as negative damping, half a per cent of range here. Its velocities stand half a step behind its
places, so whatever depends on them sees them brought forward by that: its error then falls with the square of its step.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache

import mujoco
import numpy as np
from motion_vehicles import RADIUS, TYRE, WHEELBASE, stop_curve
from scipy.interpolate import PchipInterpolator

from tussock.mechanics.arrays import Floats
from tussock.mechanics.linkage import Axle, axle_map, build_axle
from tussock.mechanics.mass import MassState
from tussock.mechanics.motion import AxleParts, DamperParts, Rest, Steering, Vehicle
from tussock.mechanics.motion import kernels as k
from tussock.mechanics.tyre import Tyre

Road = Callable[[float], tuple[Floats, Floats, Floats]]  # height, rate, slope under the four wheels at a time

LINKS = {
    "lower_link_axle": (0.012, 0.470, 0.302),
    "lower_link_chassis": (-0.840, 0.430, 0.400),
    "upper_link_axle": (-0.006, 0.180, 0.560),
    "upper_link_chassis": (-0.600, 0.160, 0.590),
    "track_rod_axle": (0.120, -0.450, 0.352),
    "track_rod_chassis": (0.120, 0.424, 0.424),
}
TRAILING = {
    "lower_link_axle": (0.012, 0.478, 0.302),
    "lower_link_chassis": (0.766, 0.436, 0.372),
    "upper_link_axle": (-0.006, 0.020, 0.520),
    "upper_link_chassis": (0.600, 0.020, 0.545),
    "track_rod_axle": (-0.132, 0.472, 0.398),
    "track_rod_chassis": (-0.132, -0.482, 0.458),
}
SEATS = {
    "wheel_centre": (0.0, 0.750, RADIUS),
    "spring_axle": (0.004, 0.462, 0.432),
    "spring_chassis": (0.002, 0.458, 0.722),
    "damper_axle": (-0.062, 0.545, 0.318),
    "damper_chassis": (-0.030, 0.470, 0.786),
    "stop_axle": (0.004, 0.440, 0.500),
    "stop_chassis": (0.002, 0.438, 0.642),
}
PARTS = ("spring", "damper", "stop")
_KNUCKLE = 1.0  # mass that turns with a wheel and lies on its king pin [kg]


@dataclass(frozen=True, kw_only=True)
class LinkedVehicle:
    """Our vehicle and the axles from whose hardpoints both models are made."""

    vehicle: Vehicle
    axles: tuple[Axle, Axle]


def _axle(links: dict[str, tuple[float, float, float]], shift: float) -> Axle:
    points = {name: np.array(place) + np.array([shift, 0.0, 0.0]) for name, place in {**SEATS, **links}.items()}
    return build_axle("links_track_rod", points, wheel_radius=RADIUS, central={"upper_link"})


def _damper(compression: float, rebound: float) -> DamperParts:
    v = np.linspace(-4.0, 4.0, 161)
    return DamperParts(
        velocity=v, force=np.where(v > 0.0, compression, rebound) * v / (1.0 + 0.4 * np.abs(v)), gas=60.0
    )


@cache
def linked_wagon() -> LinkedVehicle:
    """Return an invented wagon of 1,750 kg: leading links and a falling track rod in front, trailing ones behind."""
    axles = (_axle(LINKS, 0.0), _axle(TRAILING, -WHEELBASE))
    compression, force = stop_curve()
    ends = []
    for axle, mass, rate, load, bar in zip(
        axles, (150.0, 140.0), (22e3, 24e3), (3650.0, 3350.0), (8000.0, 3000.0), strict=True
    ):
        grid = axle_map(axle)
        middle = (grid.heave.size // 2, grid.roll.size // 2)
        lengths = tuple(float(grid.spring[middle][side]) + load / rate for side in (0, 1))
        ends.append(
            AxleParts(
                axle=grid,
                mass=MassState(mass=mass, centre=tuple(axle.centre), inertia=(56.0, 9.0, 57.0)),
                spin_inertia=1.5,
                spring_rate=(rate, rate),
                spring_length=(lengths[0], lengths[1]),
                stop_height=0.078,
                stop_compression=compression,
                stop_force=force,
                damper=_damper(1300.0, 2300.0),
                bar_rate=bar,
                tyre=replace(TYRE, pneumatic_trail=0.0),
            )
        )
    body = MassState(mass=1460.0, centre=(-1.29, 0.012, 0.76), inertia=(560.0, 2350.0, 2450.0))
    return LinkedVehicle(vehicle=Vehicle(body=body, front=ends[0], rear=ends[1]), axles=axles)


def engine_text(linked: LinkedVehicle, *, timestep: float) -> str:
    """Return the model in the engine's language: bodies, rods, and the lines of springs, dampers and stops."""

    def text(v: Floats) -> str:
        return " ".join(f"{x:.15g}" for x in v)

    vehicle = linked.vehicle
    centre = np.array(vehicle.body.centre)
    chassis, bodies, tendons, equal, motors = "", "", "", "", ""
    for a, (axle, parts) in enumerate(zip(linked.axles, vehicle.axles, strict=True)):
        sites = ""

        def line(name: str, top: Floats, low: Floats, axle: Axle = axle) -> str:
            nonlocal chassis, sites
            chassis += f'<site name="t_{name}" pos="{text(top - centre)}"/>'
            sites += f'<site name="l_{name}" pos="{text(low - axle.centre)}"/>'
            return f'<spatial name="{name}"><site site="t_{name}"/><site site="l_{name}"/></spatial>'

        for rod in axle.linkage.elements:
            name = f"{rod.name}_{a}"
            tendons += line(name, rod.point_b, rod.point_a)
            equal += f'<tendon tendon1="{name}"/>'
        for part in PARTS:
            held = axle.attachments[part]
            for side in (0, 1):
                name = f"{part}_{a}_{side}"
                tendons += line(name, held.chassis[side], held.at[side])
                motors += f'<motor name="{name}" tendon="{name}"/>'
        mass, inertia = parts.mass.mass, np.array(parts.mass.inertia)
        knuckles = ""
        for side in (0, 1):
            place = axle.wheel_centres[side] - axle.centre
            wheel = f'<site name="wheel_{a}_{side}" pos="{text(place)}"/>'
            if a == 0 and vehicle.steering is not None:
                pin, turning, own = _king_pin(vehicle.steering, 1.0 - 2.0 * side)
                pin = pin + place
                stiff = 0.5 * vehicle.steering.stiffness / float(turning @ turning)
                calm = 0.5 * (vehicle.steering.damping + vehicle.steering.damper) / float(turning @ turning)
                knuckles += (
                    f'<body name="knuckle_{side}" pos="{text(pin)}"><inertial pos="0 0 0" mass="{_KNUCKLE}" '
                    f'diaginertia="{text(own)}"/><joint name="pin_{side}" type="hinge" axis="{text(turning)}" '
                    f'stiffness="{stiff}" damping="{calm}"/><site name="wheel_{a}_{side}" pos="{text(place - pin)}"/>'
                    "</body>"
                )
                mass -= _KNUCKLE
                inertia = inertia - own - _KNUCKLE * (pin @ pin - pin**2)
            else:
                sites += wheel
        if knuckles:
            equal += '<joint joint1="pin_0" joint2="pin_1"/>'
        bodies += (
            f'<body name="axle_{a}" pos="{text(axle.centre)}"><freejoint/><inertial pos="0 0 0" '
            f'mass="{mass}" diaginertia="{text(inertia)}"/>{sites}{knuckles}</body>'
        )
    b = vehicle.body
    return (
        f'<mujoco><compiler angle="radian"/><option timestep="{timestep}" gravity="0 0 {-vehicle.gravity}" '
        'tolerance="1e-14" iterations="100" integrator="Euler"><flag eulerdamp="disable"/></option>'
        f'<default><equality solref="{4.0 * timestep} 1" solimp="0.99999 0.99999 0.001"/></default>'
        f'<worldbody><body name="body" pos="{text(centre)}"><freejoint/><inertial pos="0 0 0" mass="{b.mass}" '
        f'diaginertia="{text(np.array(b.inertia))}"/>{chassis}</body>{bodies}</worldbody>'
        f"<tendon>{tendons}</tendon><equality>{equal}</equality><actuator>{motors}</actuator></mujoco>"
    )


def _king_pin(steering: Steering, sign: float) -> tuple[Floats, Floats, Floats]:
    """Return the king pin against its wheel's centre, what a unit of steer turns about, and the knuckle's inertia."""
    turning = np.array([-math.tan(steering.caster), -sign * math.tan(steering.inclination), 1.0])
    pin = np.array([steering.caster_offset, -sign * steering.king_pin_offset, 0.0])
    # about the pin half of the whole, as flat as a body can be
    up = 0.5 * steering.inertia / (1.0 + 0.5 * float(turning[:2] @ turning[:2]))
    return pin, turning, np.array([0.5 * up, 0.5 * up, up])


def _turn(yaw: float, pitch: float, roll: float) -> Floats:
    cz, sz, cy, sy = math.cos(yaw), math.sin(yaw), math.cos(pitch), math.sin(pitch)
    cx, sx = math.cos(roll), math.sin(roll)
    about_z = np.array([[cz, -sz, 0.0], [sz, cz, 0.0], [0.0, 0.0, 1.0]])
    about_y = np.array([[cy, 0.0, sy], [0.0, 1.0, 0.0], [-sy, 0.0, cy]])
    return np.asarray(about_z @ about_y @ np.array([[1.0, 0.0, 0.0], [0.0, cx, -sx], [0.0, sx, cx]]))


def _roll_of(turned: Floats) -> float:
    return math.atan2(turned[2, 1], turned[2, 2])


def _dense(x: Floats, y: Floats) -> tuple[Floats, Floats]:
    """Return a monotone curve through points, at so many places that straight lines between them will do."""
    fine = np.linspace(float(x[0]), float(x[-1]), 20001)
    return fine, np.asarray(PchipInterpolator(x, y)(fine))


class Laws:
    """Forces of one axle end's parts, each written down once more from what is known of the part."""

    def __init__(self, vehicle: Vehicle) -> None:
        ends = [p for p in vehicle.axles for _ in (0, 1)]
        self.rate = np.array([p.spring_rate[n % 2] for n, p in enumerate(ends)])
        self.free = np.array([p.spring_length[n % 2] for n, p in enumerate(ends)])
        self.stop_height = np.array([p.stop_height for p in ends])
        self.stop = [_dense(p.stop_compression, p.stop_force) for p in ends]
        self.curve = [_dense(p.damper.velocity, p.damper.force) for p in ends]
        self.gas = np.array([p.damper.gas for p in ends])
        self.tyre: list[Tyre] = [p.tyre for p in ends]

    def spring(self, length: Floats) -> Floats:
        """Return the springs' forces: none when loose, a soft start over the first half millimetre."""
        x = np.maximum(self.free - length, 0.0)
        start = np.minimum(x, k.TOE)
        return np.asarray(self.rate * (x - start + start**2 / (2.0 * k.TOE)))

    def bump_stop(self, length: Floats) -> Floats:
        """Return the stops' forces."""
        x = self.stop_height - length
        return np.array([np.interp(c, *curve) if c > 0.0 else 0.0 for curve, c in zip(self.stop, x, strict=True)])

    def damper(self, stretching: Floats) -> Floats:
        """Return the dampers' forces, gas included."""
        return np.array([np.interp(-v, *curve) for curve, v in zip(self.curve, stretching, strict=True)]) + self.gas

    @staticmethod
    def load(tyre: Tyre, deflection: float, rate: float) -> float:
        """Return a tyre's vertical force."""
        d = max(deflection, 0.0)
        touch = min(d / tyre.toe, 1.0)
        spring = tyre.vertical_stiffness * (d - tyre.toe * (touch - 0.5 * touch * touch))
        return max(spring + tyre.vertical_damping * touch * rate, 0.0)

    @staticmethod
    def side(tyre: Tyre, load: float, slip: float) -> float:
        """Return a brush's side force."""
        return tyre.side_force(slip, load)


@dataclass(frozen=True, kw_only=True)
class Motion:
    """What moved, at even times.

    `body` (n, 6) holds x, y, z of the body's centre of mass and its yaw, pitch, roll; `axle` (n, 2, 4) the height of
    an axle's centre over its place in the body, the axle's roll in the body, its place across the road and its height;
    `steer` (n,) what the front wheels turn about their king pins.
    """

    time: Floats
    body: Floats
    axle: Floats
    steer: Floats


class Engine:
    """The engine's vehicle, set down in a pose of ours and marched along."""

    def __init__(self, linked: LinkedVehicle, *, timestep: float) -> None:
        self.linked, self.vehicle, self.laws = linked, linked.vehicle, Laws(linked.vehicle)
        self.model = mujoco.MjModel.from_xml_string(engine_text(linked, timestep=timestep))
        self.data = mujoco.MjData(self.model)
        find, kind = mujoco.mj_name2id, mujoco.mjtObj
        self.lines = {
            part: np.array(
                [find(self.model, kind.mjOBJ_TENDON, f"{part}_{a}_{side}") for a in (0, 1) for side in (0, 1)]
            )
            for part in PARTS
        }
        self.motors = {
            part: np.array(
                [find(self.model, kind.mjOBJ_ACTUATOR, f"{part}_{a}_{side}") for a in (0, 1) for side in (0, 1)]
            )
            for part in PARTS
        }
        self.wheels = [find(self.model, kind.mjOBJ_SITE, f"wheel_{a}_{side}") for a in (0, 1) for side in (0, 1)]
        self.carriers = [int(self.model.site_bodyid[site]) for site in self.wheels]
        self.axles = [find(self.model, kind.mjOBJ_BODY, f"axle_{a}") for a in (0, 1)]
        self.pins = [] if self.vehicle.steering is None else [self.model.joint(f"pin_{side}").id for side in (0, 1)]
        self.ground = [
            t.free_radius - t.deflection(load) for t, load in zip(self.laws.tyre, self._static_loads(), strict=True)
        ]
        self.shift = np.zeros(4)  # of the tyres' carcass
        self.pull = 0.0

    def _static_loads(self) -> list[float]:
        """Loads by the lever rule: they only set how far below the wheel centre the side force acts."""
        v = self.vehicle
        share = (v.body.centre[0] - v.rear.axle.design_x) / v.wheelbase
        return [
            0.5 * v.gravity * (p.mass.mass + v.body.mass * s)
            for p, s in zip(v.axles, (share, 1.0 - share), strict=True)
            for _ in (0, 1)
        ]

    def place(self, q: Floats, *, speed: float) -> None:
        """Take up a pose of our coordinates, moving forward as one."""
        body = _turn(q[2], q[4], q[5])
        middle = np.array([q[0], q[1], q[3]])
        centre = np.array(self.vehicle.body.centre)
        at = [(middle, body)]
        for a, axle in enumerate(self.linked.axles):
            pose = axle.solve(np.array([q[6 + 2 * a]]), np.array([q[7 + 2 * a]]), 0.0).coordinates[0]
            own = np.array([pose[0], pose[1], axle.centre[2] + q[6 + 2 * a]])
            at.append((middle + body @ (own - centre), body @ _turn(pose[3], pose[4], q[7 + 2 * a])))
        for bodyid, (place, turned) in zip((1, *self.axles), at, strict=True):
            quaternion = np.zeros(4)
            mujoco.mju_mat2Quat(quaternion, turned.ravel())
            joint = self.model.body_jntadr[bodyid]
            first, rate = self.model.jnt_qposadr[joint], self.model.jnt_dofadr[joint]
            self.data.qpos[first : first + 7] = [*place, *quaternion]
            self.data.qvel[rate : rate + 6] = [speed * math.cos(q[2]), speed * math.sin(q[2]), 0.0, 0.0, 0.0, 0.0]
        for side, pin in enumerate(self.pins):
            assert self.vehicle.steering is not None
            _, turning, _ = _king_pin(self.vehicle.steering, 1.0 - 2.0 * side)
            self.data.qpos[self.model.jnt_qposadr[pin]] = q[10] * math.sqrt(float(turning @ turning))
        self.pull = 0.0
        self.shift[:] = 0.0
        self.data.qacc[:] = 0.0

    def _apply(self, road: tuple[Floats, Floats, Floats], speed: float, behind: Floats) -> None:
        """Put every force of this instant on the bodies."""
        data, laws, dt = self.data, self.laws, self.model.opt.timestep
        data.xfrc_applied[:] = 0.0
        data.ctrl[self.motors["spring"]] = laws.spring(data.ten_length[self.lines["spring"]])
        data.ctrl[self.motors["stop"]] = laws.bump_stop(data.ten_length[self.lines["stop"]])
        data.ctrl[self.motors["damper"]] = laws.damper(data.ten_velocity[self.lines["damper"]])
        body = data.xmat[1].reshape(3, 3)
        bearing = math.atan2(body[1, 0], body[0, 0])
        cy, sy = math.cos(bearing), math.sin(bearing)
        # traction makes up in this step for what the last one left of the held speed
        self.pull += (speed - float(behind[0]) * cy - float(behind[1]) * sy) * self.vehicle.total_mass / dt
        height, rate, slope = (values.tolist() for values in road)
        places, centres = data.site_xpos[self.wheels].tolist(), data.xipos[self.carriers].tolist()
        axes = data.site_xmat[self.wheels][:, 1::3].tolist()
        moving = np.zeros(6)
        for a in (0, 1):
            # anti-roll bar
            axle = data.xmat[self.axles[a]].reshape(3, 3)
            bar = -self.vehicle.axles[a].bar_rate * _roll_of(body.T @ axle) * axle[:, 0]
            data.xfrc_applied[1, 3:] -= bar
            data.xfrc_applied[self.axles[a], 3:] += bar
        for n in range(4):
            parts, tyre, down = self.vehicle.axles[n // 2], laws.tyre[n], self.ground[n]
            rx, ry, rz = (place - own for place, own in zip(places[n], centres[n], strict=True))
            mujoco.mj_objectVelocity(self.model, data, mujoco.mjtObj.mjOBJ_SITE, self.wheels[n], moving, 0)
            wx, wy, wz, vx, vy, vz = moving.tolist()
            ax, ay, az = axes[n]
            # the couple that a turning wheel asks for
            spin = parts.spin_inertia * speed / parts.tyre.free_radius
            cx, cyy, cz = -spin * (wy * az - wz * ay), -spin * (wz * ax - wx * az), -spin * (wx * ay - wy * ax)
            level = 1.0 / math.sqrt(1.0 - az * az)
            sh, ch = -(ax * cy + ay * sy) * level, (ay * cy - ax * sy) * level
            drive = 0.5 * parts.drive_share * self.pull
            load = laws.load(tyre, tyre.free_radius + height[n] - places[n][2], rate[n] - vz)
            ahead, left = vx * cy + vy * sy, vy * cy - vx * sy + down * (wx * cy + wy * sy)
            slide, rolled = left * ch - ahead * sh, ahead * ch + left * sh
            sigma = tyre.relaxation_base + tyre.relaxation_gain * load
            pace = math.hypot(rolled, 2.0 * slide) / sigma
            drift = (-slide - self.shift[n] * pace) / (1.0 + 0.5 * dt * pace)
            slip = (self.shift[n] + (0.5 * dt + tyre.carcass_time) * drift) / sigma - tyre.camber_gain * az
            self.shift[n] += dt * drift
            # traction lies along the wheel and leaves the rest of the friction ellipse to the side force
            limit = tyre.friction * load
            left_over = math.sqrt(max(1.0 - drive * drive / (limit * limit + 1.0), 0.01))
            lateral = left_over * tyre.side_force(slip, load)
            along = -load * slope[n] - lateral * sh + drive * ch
            across = lateral * ch + drive * sh
            fx, fy = along * cy - across * sy, along * sy + across * cy
            # side force and traction act at the patch
            over, back = down * across, -down * drive * ch
            cx += ry * load - rz * fy + over * cy - back * sy
            cyy += rz * fx - rx * load + over * sy + back * cy
            cz += rx * fy - ry * fx + left_over * tyre.aligning_moment(slip, load)
            data.xfrc_applied[self.carriers[n]] += (fx, fy, load, cx, cyy, cz)

    def march(self, road: Road, *, speed: float, seconds: float, every: int) -> Motion:
        """March and return what moved at every so many steps, the start included."""
        steps, dt = round(seconds / self.model.opt.timestep), self.model.opt.timestep
        body, axle, time, steer = [], [], [], []
        centre = np.array(self.vehicle.body.centre)
        for n in range(steps + 1):
            # velocities stand half a step behind positions; what depends on them sees them brought forward
            behind = self.data.qvel.copy()
            self.data.qvel[:] = behind + 0.5 * dt * self.data.qacc
            mujoco.mj_step1(self.model, self.data)
            if n % every == 0:
                time.append(n * dt)
                b = self.data.xmat[1].reshape(3, 3)
                at = self.data.xpos[1]
                pitch = -math.asin(b[2, 0])
                body.append([*at, math.atan2(b[1, 0], b[0, 0]), pitch, math.atan2(b[2, 1], b[2, 2])])
                row = []
                for a, linkage in enumerate(self.linked.axles):
                    own = b.T @ (self.data.xpos[self.axles[a]] - at) + centre - linkage.centre
                    turned = b.T @ self.data.xmat[self.axles[a]].reshape(3, 3)
                    row.append(
                        [own[2], _roll_of(turned), self.data.xpos[self.axles[a]][1], self.data.xpos[self.axles[a]][2]]
                    )
                axle.append(row)
                steer.append(self._steer())
            self._apply(road(n * dt), speed, behind)
            self.data.qvel[:] = behind
            mujoco.mj_step2(self.model, self.data)
        return Motion(time=np.array(time), body=np.array(body), axle=np.array(axle), steer=np.array(steer))

    def _steer(self) -> float:
        if not self.pins:
            return 0.0
        assert self.vehicle.steering is not None
        _, turning, _ = _king_pin(self.vehicle.steering, 1.0)
        return float(self.data.qpos[self.model.jnt_qposadr[self.pins[0]]]) / math.sqrt(float(turning @ turning))


def as_motion(linked: LinkedVehicle, time: Floats, position: Floats) -> Motion:
    """Return our coordinates in the same terms; axles are placed by the linkage, not by the run's tables."""
    axle = np.zeros((time.size, 2, 4))
    centre = np.array(linked.vehicle.body.centre)
    for a, this in enumerate(linked.axles):
        for n, q in enumerate(position):
            pose = this.solve(np.array([q[6 + 2 * a]]), np.array([q[7 + 2 * a]]), 0.0).coordinates[0]
            own = np.array([pose[0], pose[1], this.centre[2] + q[6 + 2 * a]]) - centre
            world = np.array([q[0], q[1], q[3]]) + _turn(q[2], q[4], q[5]) @ own
            axle[n, a] = q[6 + 2 * a], q[7 + 2 * a], world[1], world[2]
    return Motion(time=time, body=position[:, [0, 1, 3, 2, 4, 5]], axle=axle, steer=position[:, 10])


def at_rest(rest: Rest, **moved: float) -> Floats:
    """Return a position at rest with the body lifted or leant; the axles go with it."""
    q = rest.q.copy()
    q[3] += moved.get("height", 0.0)
    q[5] += moved.get("roll", 0.0)
    return q
