"""What one section's history comes to: every measure of `mechanics.measures.MEASURES`, and what lies behind them."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from tussock.mechanics import measures as m
from tussock.mechanics.arrays import Floats
from tussock.mechanics.motion import Rest, Vehicle
from tussock.mechanics.motion.path import Path
from tussock.mechanics.motion.simulate import History

Lever = tuple[float, float, float]


@dataclass(frozen=True, kw_only=True)
class Points:
    """Where vibration is taken: in vehicle axes of the stock pose, or as levers from the sprung centre of mass [m].

    Attributes
    ----------
    seat, head : tuple of float
        Seat surface and middle of the head.
    backrest, feet : tuple of float or None
        Not judged where None.
    cushion : Cushion or None
        What lies between floor and person; rigid where None.
    """

    seat: Lever
    head: Lever
    backrest: Lever | None = None
    feet: Lever | None = None
    cushion: m.Cushion | None = None

    def about(self, centre: Lever) -> Points:
        """Return the points as levers from a centre of mass that lies in the same axes [m]."""

        def lever(point: Lever | None) -> Lever | None:
            return None if point is None else (point[0] - centre[0], point[1] - centre[1], point[2] - centre[2])

        seat, head = lever(self.seat), lever(self.head)
        assert seat is not None
        assert head is not None
        return Points(seat=seat, head=head, backrest=lever(self.backrest), feet=lever(self.feet), cushion=self.cushion)


@dataclass(frozen=True, kw_only=True)
class Reduced:
    """A section's measures by key in SI, the seat's comfort, and each damper and stop, front left to rear right.

    `cushion` is what a soft seat passes on, None for a rigid one.
    """

    measures: Mapping[str, float]
    comfort: m.SeatComfort
    damper: tuple[m.DamperWork, ...]
    stops: tuple[m.StopHits, ...]
    cushion: m.SeatPassesOn | None


def reduce(
    h: History,
    *,
    vehicle: Vehicle,
    rest: Rest,
    points: Points,
    speed: Floats | float,
    mean_speed: float,
    way: float,
    path: Path | None = None,
    ratio: float = 1.0,
) -> Reduced:
    """Reduce a history to measures.

    Parameters
    ----------
    h : History
        Of the section.
    vehicle, rest : Vehicle, Rest
        What was driven, and where it stands.
    points : Points
        Where vibration is taken.
    speed : float or array (n,)
        Held, or at each sample of the history [m/s].
    mean_speed : float
        Over the time driven [m/s].
    way : float
        Direction in which the vehicle rolls straight on, against where it points, left positive [rad].
    path : Path, optional
        What it should follow; straight on that way unless given.
    ratio : float
        Hand wheel angle over the steer of the front wheels, where the vehicle's steering does not say it [-].
    """
    comfort, ride, toss, cushion = _felt(h, points)
    shocks = m.shock_levels(comfort.vertical, h.step)
    # float and its fellows are read against the axles, which follow the road's long waves
    body = m.body_motion(
        heave=-0.5 * (h.position[:, 6] + h.position[:, 8]),
        pitch_rate=h.velocity[:, 1],
        roll_rate=h.velocity[:, 0],
        step=h.step,
    )
    flat = m.flat_ride(
        np.ascontiguousarray(h.centre_acceleration[:, 2]),
        np.ascontiguousarray(h.angular_acceleration[:, 1]),
        h.step,
        ahead=vehicle.front.axle.design_x - vehicle.body.centre[0],
        wheelbase=vehicle.wheelbase,
        longest=1.5 * vehicle.wheelbase / mean_speed,
    )
    contact = [m.wheel_contact(h.wheel_load[:, i], float(rest.wheel_load[i]), h.step) for i in range(4)]
    stops = tuple(m.stop_hits(h.stop_force[:, i], h.stop_speed[:, i], h.step) for i in range(4))
    ends = [(h.damper_end_force[:, i], h.damper_velocity[:, i]) for i in range(4)]
    tops = [m.stop_hits(-force, -speed, h.step) for force, speed in ends]
    bottoms = [m.stop_hits(force, speed, h.step) for force, speed in ends]
    return Reduced(
        measures={
            "seat": comfort.total,
            "ride": ride,
            "seat_peak": comfort.peak,
            "dose": comfort.dose,
            "crest": comfort.crest,
            "peak_ratio": comfort.axes[2].peak_ratio,
            "dose_ratio": comfort.axes[2].dose_ratio,
            "harshness": math.hypot(shocks["shock_medium"], shocks["shock_sharp"]),
            **shocks,
            "toss": toss.rms,
            "toss_peak": toss.peak,
            "pitch_rate": body.pitch_rate,
            "pitch_over_heave": flat.ratio,
            "pitch_lag": abs(flat.lag),
            "float": body.float_heave,
            "heave_range": body.heave_range,
            "roll_rate": body.roll_rate,
            "load": math.sqrt(sum(c.variation**2 for c in contact) / 4.0),
            "least_load": max(min(c.least for c in contact), 0.0),
            "airborne": sum(c.airborne for c in contact) / 4.0,
            "front_airborne": 0.5 * (contact[0].airborne + contact[1].airborne),
            "rear_airborne": 0.5 * (contact[2].airborne + contact[3].airborne),
            "longest_gap": max(c.longest for c in contact),
            **_sideways(h, vehicle=vehicle, rest=rest, speed=speed, way=way),
            "drift": _off(h, way=way, path=path),
            **_hand(h, ratio=ratio if vehicle.steering is None else vehicle.steering.ratio),
            "stops": max(s.hardest for s in stops),
            "stop_count": float(sum(s.count for s in stops)),
            "top_outs": float(sum(t.count for t in tops)),
            "top_out_force": max(t.hardest for t in tops),
            "bottoms": float(sum(b.count for b in bottoms)),
            "bottom_force": max(b.hardest for b in bottoms),
            "mean_speed": mean_speed,
        },
        comfort=comfort,
        damper=tuple(m.damper_work(h.damper_velocity[:, i], h.damper_force[:, i]) for i in range(4)),
        stops=stops,
        cushion=cushion,
    )


def _felt(h: History, points: Points) -> tuple[m.SeatComfort, float, m.HeadToss, m.SeatPassesOn | None]:
    """Return the seat's comfort, the total over all measuring points with its rotations [m/s^2], head toss, cushion.

    All signals are weighted in one go: what is short and many keeps two threads waiting for the interpreter.
    """
    seat = h.acceleration_at(points.seat).T
    rows = [*seat, *h.turning_at(points.seat[0])[1], h.acceleration_at(points.head)[:, 1]]
    weightings = [*(m.SEAT[axis][0] for axis in "xyz"), *(m.SEAT_ROTATION[axis][0] for axis in "xyz"), m.WD]
    if points.cushion is not None:
        rows[2] = points.cushion.surface(seat[2], h.step)
    others = [(at, axes) for at, axes in ((points.backrest, m.BACKREST), (points.feet, m.FEET)) if at is not None]
    for lever, axes in others:
        rows += [*h.acceleration_at(lever).T]
        weightings += [axes[axis][0] for axis in "xyz"]
    if points.cushion is not None:
        rows.append(seat[2])
        weightings.append(m.SEAT["z"][0])
    weighted = m.weigh_all(np.stack(rows), h.step, weightings)
    comfort = m.comfort_of(dict(zip("xyz", weighted[:3], strict=True)), h.step)
    totals = [comfort.total, m.total_of(weighted[3:6], m.SEAT_ROTATION)]
    totals += [m.total_of(weighted[7 + 3 * i : 10 + 3 * i], axes) for i, (_, axes) in enumerate(others)]
    soft = None if points.cushion is None else m.SeatPassesOn(rail=m.rms(weighted[-1]), surface=m.rms(weighted[2]))
    return comfort, m.overall_total(totals), m.toss_of(weighted[6]), soft


def _hand(h: History, *, ratio: float) -> dict[str, float]:
    """Return what the hand wheel does and what is felt there; a vehicle without steering has nothing to feel."""
    angle, torque = ratio * h.steer, h.steering_moment / ratio
    return {
        "hand_turned": m.steering_work(angle),
        "hand_rate": m.steering_rate(angle, h.step),
        "hand_work": m.steering_work(angle, torque),
        "hand_torque": float(np.std(torque)),
    }


def _off(h: History, *, way: float, path: Path | None) -> float:
    """Return the furthest off the path [m]; 50 looks a second are enough for a vehicle."""
    x, y = h.position[:, 0], h.position[:, 1]
    if path is None:
        return m.lane_departure(y * math.cos(way) - x * math.sin(way))
    few = slice(None, None, max(round(0.02 / h.step), 1))
    return m.lane_departure(path.distance_from(np.ascontiguousarray(x[few]), np.ascontiguousarray(y[few])))


def _sideways(h: History, *, vehicle: Vehicle, rest: Rest, speed: Floats | float, way: float) -> dict[str, float]:
    """Return what the axles do sideways: skate, and grip that varying loads cost."""
    out: dict[str, float] = {}
    slide = h.velocity[:, 3] - np.asarray(speed) * math.tan(way)
    for a, (end, axle) in enumerate(zip(("front", "rear"), vehicle.axles, strict=True)):
        ahead = axle.axle.design_x - vehicle.body.centre[0]
        height = vehicle.body.centre[2] - axle.axle.centre_z0 - float(rest.heave[a])
        pair = slice(2 * a, 2 * a + 2)
        lost = m.grip_lost(h.wheel_load[:, pair], rest.wheel_load[pair], peak_load=axle.tyre.cornering_load)
        out[f"{end}_grip_lost"] = max(lost, 0.0)
        # steered wheels roll aside by their steer; that is no slide
        rolled = speed * (h.steer - h.steer[0]) if a == 0 else 0.0
        sideways = slide + ahead * h.velocity[:, 2] - rolled
        out[f"{end}_skate"] = m.skate(np.asarray(sideways), h.position[:, 5], h.step, height=height)
    return out
