"""Manoeuvres of the programme as the motion takes them: wind on a fit-out, the driver, the steering's ratio."""

from __future__ import annotations

import math

from tussock.errors import DomainError, InputError
from tussock.mechanics.motion.air import Body, Gust, Lorry
from tussock.mechanics.motion.driver import Driver
from tussock.mechanics.motion.lane import double_lane_change
from tussock.mechanics.motion.manoeuvres import Circle, HandWheel, Manoeuvre
from tussock.record import manoeuvres as record
from tussock.record.air import FRONTAL_SHARE, Air
from tussock.record.road import RoadSection
from tussock.studies import model, steering
from tussock.studies.job import KERB, Job, Setup

STRAIGHT = "steered"  # what `words` says of a driver who keeps a straight road
AT = math.radians(20.0)  # wind for which the record's coefficients stand [rad]


def air_body(job: Job, setup: Setup) -> Body:
    """Return what the air sees of a setup."""
    vehicle = job.programme.vehicle
    air: Air = vehicle.air
    if setup.fitout != KERB:
        air = job.programme.fitouts[setup.fitout].air or air
    width = float(vehicle.body_width)
    height = float(air.height) if air.height is not None else float(vehicle.roof_height)
    area = float(air.frontal_area) if air.frontal_area is not None else FRONTAL_SHARE * width * height
    cross, slender = math.sin(AT), math.sin(AT) * math.cos(AT)
    return Body(
        area=area,
        wheelbase=float(vehicle.wheelbase),
        width=width,
        height=height,
        side=float(air.side_force) / cross,
        yaw=float(air.yaw_moment) / slender,
        roll=float(air.roll_moment) / cross,
        drag=float(air.drag),
    )


def driver(job: Job) -> Driver:
    """Return the loop's driver; InputError for one who cannot be."""
    said = job.programme.road_loop.driver
    try:
        return Driver(
            preview=float(said.preview),
            reaction=float(said.reaction),
            lag=float(said.lag),
            rate=float(said.rate),
            angle=float(said.angle),
            trim=float(said.trim),
        )
    except DomainError as error:
        raise InputError(f"road_loop.driver: {error}") from None


def steering_ratio(job: Job, setup: Setup) -> float:
    """Return the hand wheel's angle over the mean steer of the front wheels, straight on at ride height [-]."""
    built = model.axle(job, "front", stock=setup.stock, setup=setup)
    return steering.ratio(job, built, model.posture(job, setup)["front"].heave)


def manoeuvre(job: Job, setup: Setup, section: RoadSection) -> Manoeuvre | None:
    """Return what a section asks besides its road; None where the hand wheel is held and no wind blows.

    Raises
    ------
    InputError
        For a manoeuvre that cannot be driven on the section; names it, what is wrong and what would be right.
    """
    asked = section.manoeuvre
    steers = section.driver == "steering" or (asked is not None and asked.kind in record.STEERED)
    if not steers and (asked is None or asked.kind == "braking"):
        return None
    front = float(job.programme.vehicle.wheelbase)
    try:
        made = Manoeuvre(
            name=f"section {section.name!r}",
            ratio=steering_ratio(job, setup),
            driver=driver(job) if steers else None,
            body=air_body(job, setup) if isinstance(asked, (record.CrosswindGust, record.LorryPass)) else None,
            winds=() if asked is None else _winds(asked),
            hand=_hand(asked),
            lane=double_lane_change(
                width=float(job.programme.vehicle.body_width), at=float(asked.at), left=asked.to == "left"
            )
            if isinstance(asked, record.LaneChange)
            else None,
            circle=Circle(at=float(asked.at), radius=float(asked.radius), left=asked.to == "left")
            if isinstance(asked, record.SteadyCircle)
            else None,
            width=float(job.programme.vehicle.body_width),
            brakes=isinstance(asked, record.Braking),
        )
        made.check(length=float(section.length), speed=float(section.speed), wheelbase=front)
    except DomainError as error:
        raise InputError(str(error)) from None
    return made


def words(made: Manoeuvre) -> str:
    """Say what is driven: "crosswind, hand wheel held"."""
    what = [
        *("crosswind" for wind in made.winds if isinstance(wind, Gust)),
        *("passing lorry" for wind in made.winds if isinstance(wind, Lorry)),
        *(("double lane change",) if made.lane is not None else ()),
        *((f"circle of {made.circle.radius:.0f} m",) if made.circle is not None else ()),
        *(("step of the hand wheel",) if made.hand is not None else ()),
        *(("braking",) if made.brakes else ()),
    ]
    if made.hand is None:
        what.append("hand wheel held" if made.driver is None else STRAIGHT)
    return ", ".join(what)


def _winds(asked: record.Manoeuvre) -> tuple[Gust | Lorry, ...]:
    if isinstance(asked, record.CrosswindGust):
        return (
            Gust(
                at=float(asked.at),
                length=float(asked.length),
                speed=_across(float(asked.wind), asked.blows_from),
                edge=float(asked.edge),
            ),
        )
    if isinstance(asked, record.LorryPass):
        return (
            Lorry(
                meets=float(asked.at),
                speed=float(asked.lorry_speed),
                way=asked.way,
                side=asked.side,
                length=float(asked.length),
                width=float(asked.width),
                height=float(asked.height),
                gap=float(asked.gap),
                wind=_across(float(asked.wind), asked.blows_from),
                scale=float(asked.scale),
            ),
        )
    return ()


def _across(wind: float, comes_from: record.Hand) -> float:
    """Return the wind to the left [m/s]."""
    return -wind if comes_from == "left" else wind


def _hand(asked: record.Manoeuvre | None) -> HandWheel | None:
    if not isinstance(asked, record.StepSteer):
        return None
    return HandWheel(at=float(asked.at), corners=((0.0, 0.0), (float(asked.rise), float(asked.angle))))
