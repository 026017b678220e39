"""The standard manoeuvres driven by one setup: wind, lorry, circle, step of the hand wheel, lane change, braking."""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass

import numpy as np

from tussock.errors import SolverError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.measures import handling as m
from tussock.mechanics.motion import History, Vehicle
from tussock.mechanics.motion.air import Body, Gust, Lorry
from tussock.mechanics.motion.driver import Driver
from tussock.mechanics.motion.lane import Lane, double_lane_change
from tussock.mechanics.motion.manoeuvres import Circle, Demand, HandWheel, Manoeuvre, perform
from tussock.mechanics.motion.simulate import STEP
from tussock.mechanics.motion.single_track import single_track
from tussock.mechanics.roads import CLASS_MEAN, Feature, Section, SpeedChange, Track, build
from tussock.studies import manoeuvre_parts, model, parts
from tussock.studies.job import Job, Setup
from tussock.studies.loop import Ready

EVERY = 5  # every fifth step is kept
FAST = 100.0 / 3.6  # speed of ISO 12021 and ISO 7401 [m/s], from memory
GUST = Gust(at=40.0, length=25.0, speed=-20.0)
LORRY_SPEEDS = (90.0 / 3.6, 80.0 / 3.6)  # of vehicle and oncoming lorry [m/s]
LORRY = Lorry(meets=80.0, speed=LORRY_SPEEDS[1], way="oncoming", side="left")
RADIUS = 100.0  # of ISO 4138, from memory [m]
CIRCLE_FROM, CIRCLE_GAINS = 5.0, 0.3  # speed at the start of the circle [m/s], its rate [m/s^2]
KEEPS = 0.5  # distance from the circle that counts as on it [m]; ISO 4138, from memory
LATERAL = 4.0  # of ISO 7401, from memory [m/s^2]
SETTLES = 5.0  # time for which the step of the hand wheel is followed [s]
LANE_SPEEDS = tuple(range(40, 121, 10))  # tried one after the other, then by 1 between [km/h]
LOOKS = (0.5, 0.6, 0.7, 0.8)  # times that the lane change's driver looks ahead; the best counts [s]
LANE = 3.5  # width of the lane that braking must keep to [m]; common practice, no source
BRAKES_AT, BRAKES_TO = 80.0 / 3.6, 10.0 / 3.6  # speeds of braking [m/s]
DECELERATIONS = np.arange(1.5, 8.01, 0.25)  # tried one after the other until the tyres do not hold [m/s^2]
BRAKING_ROAD = "class C gravel with washboard, 0.8 m and 12 mm"


@dataclass(frozen=True, kw_only=True)
class GustRun:
    """Crosswind with the hand wheel held, and with the driver steering.

    Attributes
    ----------
    held : GustResponse
    time, off : array (n,)
        Since the front met the wind [s], off the path of the calm run, hand wheel held [m].
    departure, work, turned : float
        With the driver: greatest distance from the path [m], work at the hand wheel [J], hand wheel turned in all
        [rad].
    side_force, yaw_moment : float
        Greatest of the air [N], [N m].
    """

    held: m.GustResponse
    time: Floats
    off: Floats
    departure: float
    work: float
    turned: float
    side_force: float
    yaw_moment: float


@dataclass(frozen=True, kw_only=True)
class CircleRun:
    """A slow run round the circle: gradients, and lateral acceleration and steer of the front wheels at each moment.

    `ends` says what ended it.
    """

    gradients: m.TurnGradients
    lateral: Floats
    steer: Floats
    roll: Floats
    ends: str


@dataclass(frozen=True, kw_only=True)
class StepRun:
    """A step of the hand wheel: yaw rate and lateral acceleration, their time histories, and their figures.

    `hand` is the angle of the hand wheel [rad], `tb` the steady sideslip times the peak time of the yaw rate [rad s],
    None where the yaw rate does not overshoot.
    """

    hand: float
    time: Floats
    yaw: Floats
    lateral: Floats
    yaw_response: m.StepResponse
    lateral_response: m.StepResponse
    sideslip: float
    tb: float | None


@dataclass(frozen=True, kw_only=True)
class LaneRun:
    """One pass of the lane change.

    Attributes
    ----------
    speed, preview : float
        Driven [m/s], time that the driver looked ahead [s].
    clearance : float
        Least room to a cone at either axle [m]; below 0 cones fall.
    roll, lateral, turned, work : float
        Greatest roll [rad] and lateral acceleration [m/s^2], hand wheel turned in all [rad], work at it [J].
    least_load : float
        Least wheel load over the static one [-]; 0 when a wheel lifts.
    x, y, hand, time : array (n,)
        Middle of the front axle along and across the lane [m], hand wheel [rad], [s].
    """

    speed: float
    preview: float
    clearance: float
    roll: float
    lateral: float
    turned: float
    work: float
    least_load: float
    x: Floats
    y: Floats
    hand: Floats
    time: Floats


@dataclass(frozen=True, kw_only=True)
class BrakeRun:
    """The hardest braking that the tyres hold on one road.

    Attributes
    ----------
    stop : Stop
    front, rear : float
        Greatest brake force of an axle over what its tyres hold, mean over half a second [-].
    locks : str
        Axle that locks first when braked harder; empty if none did within what was tried.
    """

    stop: m.Stop
    front: float
    rear: float
    locks: str


@dataclass(frozen=True, kw_only=True)
class Handling:
    """All standard manoeuvres of one setup; lane is None where no speed passes, circle and step where not driven."""

    setup: Setup
    gust: GustRun
    lorry: GustRun
    circle: CircleRun
    step: StepRun
    lane: LaneRun | None
    failed: LaneRun | None
    smooth: BrakeRun
    rough: BrakeRun


class Rig:
    """A setup with what its manoeuvres need."""

    def __init__(self, job: Job, setup: Setup) -> None:
        self.setup = setup
        self.ready = Ready.of(model.vehicle(job, setup), model.rest(job, setup))
        self.ratio = manoeuvre_parts.steering_ratio(job, setup)
        self.body: Body = manoeuvre_parts.air_body(job, setup)
        self.driver: Driver = manoeuvre_parts.driver(job)
        self.width = float(job.programme.vehicle.body_width)
        self.track = 0.5 * (parts.track(job, "front") + parts.track(job, "rear"))
        self.seed = job.programme.road_loop.seed

    @property
    def vehicle(self) -> Vehicle:
        """The vehicle."""
        return self.ready.vehicle

    def drive(
        self, asked: Manoeuvre | None, road: Track, *, speed: float | Floats, every: int = EVERY
    ) -> tuple[History, Demand]:
        """Drive a manoeuvre from straight running."""
        r = self.ready
        return perform(
            r.vehicle,
            road,
            asked,
            speed=speed,
            rest=r.rest,
            every=every,
            steer=r.steer,
            sideslip=r.sideslip,
            packed=r.packed,
        )

    def level(self, length: float) -> Track:
        """Return a smooth level road of a length [m]."""
        flat = np.zeros(round(length / 0.1) + 1)
        return Track(spacing=0.1, left=flat, right=flat)

    def hand(self, run: History) -> Floats:
        """Return the hand wheel's angle beyond straight running (n,) [rad]."""
        return (run.steer - self.ready.steer) * self.ratio

    def torque(self, run: History) -> Floats:
        """Return the driver's moment on the hand wheel (n,) [N m]."""
        return run.steering_moment / self.ratio

    def aside(self, run: History) -> Floats:
        """Return how far the sprung centre is to the left of the line on which it rolls straight (n,) [m]."""
        c, s = math.cos(self.ready.sideslip), math.sin(self.ready.sideslip)
        return np.asarray(run.position[:, 1] * c - run.position[:, 0] * s)


def handling(job: Job, setup: Setup) -> Handling:
    """Return the standard manoeuvres of a setup, driven once for each job.

    Raises
    ------
    SolverError
        If a run diverges or the vehicle tips over where it should not.
    """
    key = ("handling", setup)
    if key not in job.memo:
        rig = Rig(job, setup)
        passed, failed = lane_change(rig)
        job.memo[key] = Handling(
            setup=setup,
            gust=windy(rig, GUST, speed=FAST),
            lorry=windy(rig, LORRY, speed=LORRY_SPEEDS[0]),
            circle=circle(rig),
            step=step_steer(rig),
            lane=passed,
            failed=failed,
            smooth=braking(rig, rough=False),
            rough=braking(rig, rough=True),
        )
    made = job.memo[key]
    assert isinstance(made, Handling)
    return made


def windy(rig: Rig, wind: Gust | Lorry, *, speed: float) -> GustRun:
    """Drive through a gust or past a lorry, the hand wheel held and with the driver."""
    starts = wind.at - wind.edge if isinstance(wind, Gust) else wind.meets - 0.5 * wind.length
    road = rig.level(starts + 3.2 * speed)
    asked = Manoeuvre(name="wind", ratio=rig.ratio, body=rig.body, winds=(wind,))
    held, demand = rig.drive(asked, road, speed=speed)
    # against the same run with the same drag and no wind, in which the driver holds the wheel for straight running
    still = dataclasses.replace(wind, speed=0.0) if isinstance(wind, Gust) else dataclasses.replace(wind, scale=0.0)
    calm, _ = rig.drive(dataclasses.replace(asked, winds=(still,)), road, speed=speed)
    steered, _ = rig.drive(dataclasses.replace(asked, driver=rig.driver), road, speed=speed)
    off = rig.aside(held) - rig.aside(calm)
    meets = starts / speed
    angle = rig.hand(steered)
    return GustRun(
        held=m.gust_response(
            held.time,
            off=off,
            yaw_rate=held.velocity[:, 2] - calm.velocity[:, 2],
            lateral=held.centre_acceleration[:, 1] - calm.centre_acceleration[:, 1],
            meets=meets,
        ),
        time=held.time - meets,
        off=off,
        departure=m.lane_departure(rig.aside(steered)),
        work=m.steering_work(angle, rig.torque(steered)),
        turned=m.steering_work(angle),
        side_force=float(np.abs(demand.series["side_force"]).max()),
        yaw_moment=float(np.abs(demand.series["yaw_moment"]).max()),
    )


def circle(rig: Rig) -> CircleRun:
    """Drive ever faster round the circle until the vehicle leaves it, or its wheels or tyres do not hold."""
    grip = rig.vehicle.front.tyre.friction * rig.vehicle.gravity
    asked = Manoeuvre(
        name="steady circle", ratio=rig.ratio, driver=rig.driver, circle=Circle(at=10.0, radius=RADIUS), width=rig.width
    )
    ends = ""
    for share in np.arange(0.98, 0.3, -0.04):
        top = math.sqrt(share * grip * RADIUS)
        seconds = (top - CIRCLE_FROM) / CIRCLE_GAINS
        entry = 1.5 * 0.25 * RADIUS / CIRCLE_FROM + 10.0 / CIRCLE_FROM  # straight and clothoid, at the first speed
        time = np.arange(0.0, entry + seconds, STEP)
        speed = CIRCLE_FROM + CIRCLE_GAINS * np.maximum(time - entry, 0.0)
        try:
            run, demand = rig.drive(asked, rig.level(float(speed.sum()) * STEP + 1.0), speed=speed, every=20)
        except SolverError as error:
            ends = str(error).split(";")[0]
            continue
        pace = speed[19::20][: run.time.size]
        round_it = run.time > entry
        off = np.abs(demand.path.distance_from(run.position[:, 0], run.position[:, 1]))
        left = round_it & (off > KEEPS)
        last = int(np.argmax(left)) if bool(left.any()) else run.time.size
        use = np.flatnonzero(round_it)
        use = use[use < last]
        if bool(left.any()):
            ends = f"it leaves the circle by {KEEPS:g} m"
        lateral = pace[use] * run.velocity[use, 2]
        steer = run.steer[use] - rig.ready.steer
        sideslip = np.arctan(run.velocity[use, 3] / pace[use]) - rig.ready.sideslip
        roll = run.position[use, 5] - run.position[0, 5]
        gradients = m.turn_gradients(
            lateral=lateral, steer=steer, roll=roll, sideslip=sideslip, torque=rig.torque(run)[use]
        )
        return CircleRun(gradients=gradients, lateral=lateral, steer=steer, roll=roll, ends=ends)
    raise SolverError(f"steady circle of {RADIUS:g} m: it is not driven round at any speed: {ends}")


def step_steer(rig: Rig) -> StepRun:
    """Turn the hand wheel at once by what brings 4 m/s^2, found by three runs."""
    picture = single_track(rig.vehicle)
    hand = LATERAL / FAST / picture.yaw_gain(FAST) * rig.ratio
    begins = 20.0
    road = rig.level(begins + SETTLES * FAST)
    calm, _ = rig.drive(None, road, speed=FAST)
    for _ in range(4):
        asked = Manoeuvre(
            name="step of the hand wheel",
            ratio=rig.ratio,
            hand=HandWheel(at=begins, corners=((0.0, 0.0), (0.1, hand))),
        )
        run, _ = rig.drive(asked, road, speed=FAST)
        yaw = run.velocity[:, 2] - calm.velocity[:, 2]
        steady = float(yaw[run.time > run.time[-1] - 0.5].mean()) * FAST
        if abs(steady - LATERAL) < 0.01 * LATERAL:
            break
        hand *= min(max(LATERAL / steady, 0.6), 1.8) if steady > 0.0 else 1.5
    lateral = run.centre_acceleration[:, 1] - calm.centre_acceleration[:, 1]
    angle = rig.hand(run)
    time = run.time - begins / FAST
    yaw_response = m.step_response(time, yaw, angle)
    last = time > time[-1] - 0.5
    sideslip = float(np.mean(run.velocity[last, 3] - calm.velocity[last, 3])) / FAST
    overshoots = math.isfinite(yaw_response.peak_time)
    return StepRun(
        hand=hand,
        time=time,
        yaw=yaw,
        lateral=lateral,
        yaw_response=yaw_response,
        lateral_response=m.step_response(time, lateral, angle),
        sideslip=sideslip,
        tb=abs(sideslip) * yaw_response.peak_time if overshoots else None,
    )


def lane_change(rig: Rig) -> tuple[LaneRun | None, LaneRun | None]:
    """Return the fastest pass of the lane change without a fallen cone, and the slowest that failed above it."""
    lane = double_lane_change(width=rig.width, at=30.0)
    passed: LaneRun | None = None
    failed: LaneRun | None = None

    def best(kmh: float) -> LaneRun | None:
        runs = [lane_pass(rig, lane, speed=kmh / 3.6, preview=look) for look in LOOKS]
        driven = [r for r in runs if r is not None]
        return max(driven, key=lambda r: r.clearance) if driven else None

    at = float(LANE_SPEEDS[0])
    for kmh in LANE_SPEEDS:
        run = best(kmh)
        if run is None or run.clearance < 0.0:
            failed = run
            break
        passed, at = run, float(kmh)
    else:
        return passed, None
    if passed is None:
        return None, failed
    low, high = at, at + 10.0
    while high - low > 1.0:
        middle = float(math.floor(0.5 * (low + high)))
        run = best(middle)
        if run is None or run.clearance < 0.0:
            high, failed = middle, run or failed
        else:
            low, passed = middle, run
    return passed, failed


def lane_pass(rig: Rig, lane: Lane, *, speed: float, preview: float) -> LaneRun | None:
    """Drive through a lane once; None if the vehicle tips over or diverges on the way."""
    driver = dataclasses.replace(rig.driver, preview=preview)
    asked = Manoeuvre(name="lane change", ratio=rig.ratio, driver=driver, lane=lane, width=rig.width)
    try:
        run, _ = rig.drive(asked, rig.level(lane.end + 20.0), speed=speed)
    except SolverError:
        return None
    way = rig.ready.sideslip
    c, s = math.cos(way), math.sin(way)
    heading = run.position[:, 2] + way
    along = run.position[:, 0] * c + run.position[:, 1] * s
    across = rig.aside(run)
    ahead = rig.vehicle.front.axle.design_x - rig.vehicle.body.centre[0]
    half = 0.5 * rig.width * np.cos(heading)
    room = np.inf
    for lever in (ahead, ahead - rig.vehicle.wheelbase):
        x, y = along + lever * np.cos(heading) - ahead, across + lever * np.sin(heading)
        room = min(room, float(lane.clearance(x, y + half, y - half).min()))
    angle = rig.hand(run)
    rest = rig.ready.rest.wheel_load
    return LaneRun(
        speed=speed,
        preview=preview,
        clearance=room,
        roll=float(np.abs(run.position[:, 5] - run.position[0, 5]).max()),
        lateral=float(np.abs(speed * run.velocity[:, 2]).max()),
        turned=m.steering_work(angle),
        work=m.steering_work(angle, rig.torque(run)),
        least_load=float((run.wheel_load / rest).min()),
        x=along + ahead * np.cos(heading) - ahead,
        y=across + ahead * np.sin(heading),
        hand=angle,
        time=run.time,
    )


def braking(rig: Rig, *, rough: bool) -> BrakeRun:
    """Brake ever harder until the tyres of an axle do not hold or the vehicle leaves its lane; the hardest held."""
    found: BrakeRun | None = None
    for deceleration in DECELERATIONS:
        locks = ""
        try:
            run = brake(rig, float(deceleration), rough=rough)
        except SolverError as error:
            if found is None:
                raise
            locks = next((end for end in ("front", "rear") if f"{end} axle" in str(error)), "")
        else:
            if max(run.front, run.rear) <= 1.0 and run.stop.drift <= 0.5 * (LANE - rig.width):
                found = run
                continue
            locks = "front" if run.front > run.rear else "rear"
        if found is None:
            raise SolverError(
                f"braking: the tyres of the {locks} axle do not even hold {DECELERATIONS[0]:g} m/s^2; brake share and "
                "loads do not go together"
            )
        return dataclasses.replace(found, locks=locks)
    assert found is not None
    return found


def brake(rig: Rig, deceleration: float, *, rough: bool) -> BrakeRun:
    """Brake once at a deceleration; the driver steers straight on."""
    begins = 40.0
    length = begins + (BRAKES_AT**2 - BRAKES_TO**2) / (2.0 * deceleration) + 15.0
    features = (
        Feature(
            kind="corrugation",
            at=10.0,
            parameters={"length": length - 12.0, "wavelength": 0.8, "depth": 0.012, "irregularity": 0.15},
        ),
    )
    section = Section(
        name="braking",
        length=length,
        speed=BRAKES_AT,
        density=CLASS_MEAN["C"] if rough else 0.0,
        features=features if rough else (),
        speed_changes=(SpeedChange(at=begins, speed=BRAKES_TO),),
        acceleration=deceleration,
    )
    speed = section.driven_speed(STEP)
    assert isinstance(speed, np.ndarray)
    road = build(section, track=rig.track, seed=rig.seed)
    run, _ = rig.drive(Manoeuvre(name="braking", ratio=rig.ratio, driver=rig.driver), road, speed=speed)
    pace = speed[EVERY - 1 :: EVERY][: run.time.size]
    stop = m.braking_stop(
        run.time,
        speed=pace,
        pitch=run.position[:, 4],
        off=rig.aside(run),
        wheel_load=run.wheel_load,
        begins=begins / BRAKES_AT,
    )
    grip = [parts.tyre.friction for parts in rig.vehicle.axles]
    window = np.ones(round(0.5 / run.step)) / round(0.5 / run.step)
    used = []
    for a in (0, 1):
        pair = slice(2 * a, 2 * a + 2)
        force, load = run.longitudinal_force[:, pair].sum(axis=1), run.wheel_load[:, pair].sum(axis=1)
        held = np.convolve(load, window, mode="valid")
        used.append(float((np.abs(np.convolve(force, window, mode="valid")) / (grip[a] * held)).max()))
    return BrakeRun(stop=stop, front=used[0], rear=used[1], locks="")
