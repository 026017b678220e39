"""The ways to mend a lifted rigid axle: track rod, caster, drag link; each solved, with what it does to the rest."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from tussock.errors import AssemblyError, SolverError
from tussock.mechanics.arrays import Floats
from tussock.studies import limiters, mending_wheel, model, suspensions
from tussock.studies.geometry_parts import Characteristics, characteristics, measure, points_of, with_changes
from tussock.studies.job import Job, Setup
from tussock.studies.limiters import AxlePath
from tussock.studies.mending import Adjustment, Part, least, nearest, smallest
from tussock.studies.reach import axle_travel
from tussock.studies.suspensions import Suspension

MOST_BRACKET = 0.08  # a bracket moves a rod's end by at most this [m]
MOST_OFFSET = 0.008  # an offset bush moves its centre by at most this [m]
MOST_DROP = 0.10  # brackets lower the arms' chassis ends by at most this [m]
MOST_BALL = 0.006  # an offset ball joint moves its centre by at most this [m]
_WORTH = math.radians(0.05)  # less steer than this is no reason for a part
UP, FORWARD = np.array([0.0, 0.0, 1.0]), np.array([1.0, 0.0, 0.0])


@dataclass(frozen=True, kw_only=True)
class Option:
    """One way to mend one fault of one axle.

    Attributes
    ----------
    purpose : str
        What it mends, in words.
    part : Part
        Size and hardpoints.
    after : Characteristics
        The axle with it and nothing else beside what was fitted before.
    spacer : float
        How much taller the bump stop must be for the rod to clear the chassis [m].
    fitted : bool
        Whether the study goes on with it.
    """

    purpose: str
    part: Part
    after: Characteristics
    spacer: float
    fitted: bool = False


class Bench:
    """One axle about one ride height, on which parts are tried beside those fitted already."""

    def __init__(
        self, job: Job, setup: Setup, end: str, *, ride: float, window: tuple[float, float], fitted: Iterable[Part] = ()
    ) -> None:
        self.job, self.setup, self.end, self.ride, self.window = job, setup, end, ride, window
        self.fitted = tuple(p for p in fitted if p.end == end)
        self.points = points_of(job, end)
        record = job.programme.vehicle.axles[end].steering
        self.steering = record.kind if record is not None else ""
        for part in self.fitted:
            self.points |= {name.partition("@")[0]: np.asarray(moved) for name, moved in part.changes.items()}

    def with_part(self, part: Part | None = None) -> Characteristics:
        """Return the characteristics with the parts fitted and one more."""
        axle, key = self._axle(part)
        return model.once(
            self.job,
            ("with parts", *key, self.ride, self.window),
            lambda: characteristics(self.job, axle, self.end, ride=self.ride, window=self.window),
        )

    def measure(self, name: str, part: Part) -> float:
        """Return one characteristic with the parts fitted and one more; 0 where the axle has none such."""
        axle = self._axle(part)[0]
        key = ("measure", name, self.ride, self.window)
        return self.job.kept.number_of(
            axle, key, lambda: measure(axle, name, ride=self.ride, window=self.window) or 0.0
        )

    def _axle(self, part: Part | None) -> tuple[Suspension, tuple[object, ...]]:
        """Return the axle with the parts fitted and one more, and what it is known by within the job."""
        changes, refit = self._with(part)
        key = (self.end, self.setup, tuple((name, at.tobytes()) for name, at in changes.items()), refit)
        return with_changes(self.job, self.end, changes, refit=refit, setup=self.setup), key

    def _with(self, part: Part | None) -> tuple[dict[str, Floats], tuple[str, ...]]:
        every = (*self.fitted, *((part,) if part else ()))
        changes = {name: np.asarray(moved) for p in every for name, moved in p.changes.items()}
        return changes, tuple(dict.fromkeys(rod for p in every for rod in p.refit))

    def option(self, purpose: str, part: Part) -> Option:
        """Return a part with what it does."""
        return Option(purpose=purpose, part=part, after=self.with_part(part), spacer=self.spacer(part))

    def spacer(self, part: Part | None = None) -> float:
        """Return how much taller the bump stop must be so that rods and chassis keep their distance [m].

        The rods' margins are followed along the whole travel with the part, level, and compared with where the
        travel ends now.
        """
        record = self.job.programme.vehicle.axles[self.end]
        watched = [li for li in record.limiters if li.kind == "clearance" and li.rod in ("track_rod", "drag_link")]
        if not watched:
            return 0.0
        reach = axle_travel(self.job, self.setup, self.end)
        names = {w.name for w in watched}
        others = [s for s in reach.level if s.where == "bump" and s.name not in names]
        if not others:
            return 0.0
        bump = min(others, key=lambda s: s.heave)
        changes, _ = self._with(part)
        axle, _ = self._axle(part)
        rolls = np.array([-0.02, 0.0, 0.02])
        path = AxlePath(suspensions.kept_map(self.job, self.end, axle, model.TRAVEL_HEAVE, rolls), 1)
        points = self.points | {n.partition("@")[0]: moved for n, moved in changes.items()}
        short = 0.0
        for limiter in watched:
            held = "pitman" if limiter.rod == "drag_link" else "chassis"
            margin = limiters.rod_clearance_margin(
                path,
                fixed=points[f"{limiter.rod}_{held}"],
                moving=points[f"{limiter.rod}_axle"],
                radius=float(limiter.rod_radius),
                points=tuple(np.array(p.si) for p in limiter.chassis),
                least=float(limiter.least),
            )
            meets = [
                s for s in limiters.stops({limiter.name: margin}, path.heave, start=self.ride) if s.where == "bump"
            ]
            short = max([short, *(bump.heave - s.heave for s in meets)])
        # the stop's own ratio: how much its gap closes for each millimetre of heave
        gap = np.mean(path.axle.stop[:, 1, :], axis=1)
        return short * abs(float(np.interp(bump.heave, path.heave, np.gradient(gap, path.heave))))


def _shift(points: dict[str, Floats], *moves: tuple[str, Floats]) -> Callable[[float], dict[str, Floats]]:
    """Return the function from a size to hardpoints moved by that size along directions, ``point@body``."""
    return lambda size: {name: points[name.partition("@")[0]] + size * along for name, along in moves}


def track_rod_ways(bench: Bench) -> tuple[Adjustment, ...]:
    """Return the brackets that tilt the track rod: its axle end up, its chassis end down."""
    if "track_rod_axle" not in bench.points:
        return ()
    return tuple(
        Adjustment(
            key=key,
            title=title,
            end=bench.end,
            most=MOST_BRACKET,
            step=1e-3,
            changes=_shift(bench.points, (point, sign * UP)),
            refit=("track_rod",),
            more=more,
            less=less,
        )
        for key, title, point, sign, more, less in (
            (
                "track_rod_bracket",
                "track-rod bracket",
                "track_rod_axle@axle",
                1.0,
                "a bracket that raises the track rod's axle end by {}",
                "a bracket that lowers the track rod's axle end by {}",
            ),
            (
                "track_rod_drop",
                "track-rod drop bracket",
                "track_rod_chassis@chassis",
                -1.0,
                "a bracket that lowers the track rod's chassis end by {}",
                "a bracket that raises the track rod's chassis end by {}",
            ),
        )
    )


def mend_shift(bench: Bench, *, wanted: float, target: float) -> list[Option]:
    """Return the lowest bracket at either end of the track rod that brings the lateral shift down to `wanted` [m].

    None is returned while the axle shifts no more than the target [m] and no more than half a millimetre over wanted.

    Raises
    ------
    SolverError
        If neither end reaches it, with the best of each.
    """
    was = bench.with_part().lateral_shift
    # half a millimetre more than stock is no reason for a part, more than the target is
    if was - wanted <= min(5e-4, max(target - wanted, 0.0)):
        return []
    return _each(
        bench,
        "lateral shift",
        track_rod_ways(bench),
        lambda way: smallest(
            way,
            lambda size: bench.measure("lateral_shift", way.part(size)) - wanted,
            what=f"the {bench.end} axle's lateral shift",
            kind="length_fine",
        ),
    )


def mend_roll_centre(bench: Bench, *, wanted: float) -> list[Option]:
    """Return the brackets that put the roll centre at a height over ground again [m] and throw the axle no further."""
    was = bench.with_part().lateral_shift
    found = _each(
        bench,
        "roll centre as measured",
        track_rod_ways(bench),
        lambda way: nearest(
            way,
            lambda size: bench.measure("roll_centre", way.part(size)) - wanted,
            what=f"the {bench.end} roll centre",
            kind="length",
        ),
    )
    return [o for o in found if o.after.lateral_shift <= was]


def caster_ways(bench: Bench) -> tuple[Adjustment, ...]:
    """Return the parts that turn caster back: offset bushes, drop brackets, offset ball joints."""
    ways: list[Adjustment] = []
    if "arm_axle_front" in bench.points:
        ways.append(
            Adjustment(
                key="caster_bush",
                title="offset bush",
                end=bench.end,
                most=MOST_OFFSET,
                step=1e-4,
                changes=_shift(bench.points, ("arm_axle_front@axle", -UP), ("arm_axle_rear@axle", UP)),
                more="bushes with {} offset in the front arms",
                less="bushes with {} offset in the front arms",
                kind="length_fine",
            )
        )
        ways.append(
            Adjustment(
                key="arm_drop",
                title="arm drop bracket",
                end=bench.end,
                most=MOST_DROP,
                step=1e-3,
                changes=_shift(bench.points, ("arm_chassis@chassis", -UP)),
                more="brackets that lower the arms' chassis ends by {}",
                less="brackets that raise the arms' chassis ends by {}",
            )
        )
    if "king_pin_upper" in bench.points:
        ways.append(
            Adjustment(
                key="offset_ball",
                title="offset upper ball joint",
                end=bench.end,
                most=MOST_BALL,
                step=5e-4,
                changes=_shift(bench.points, ("king_pin_upper@axle", -FORWARD)),
                more="upper ball joints set {} rearward",
                less="upper ball joints set {} forward",
                kind="length_fine",
            )
        )
    return (*ways, *mending_wheel.caster_ways(bench.points, bench.end))


def mend_caster(bench: Bench, *, target: float) -> list[Option]:
    """Return the parts that bring caster to a target [rad]; none within a tenth of a degree of it.

    Raises
    ------
    SolverError
        If no part reaches it, with how near each comes.
    """
    if abs(bench.with_part().caster - target) < math.radians(0.1):
        return []
    return _each(
        bench,
        "caster",
        caster_ways(bench),
        lambda way: nearest(
            way, lambda size: bench.measure("caster", way.part(size)) - target, what="caster", kind="angle"
        ),
    )


def mend_camber(bench: Bench, *, wanted: float, worth: float) -> list[Option]:
    """Return the parts that bring camber to a value [rad]; none within `worth` of it, or on a rigid axle."""
    now = bench.with_part().camber
    if now is None or abs(now - wanted) < worth:
        return []

    def error(way: Adjustment, size: float) -> float:
        return bench.measure("camber", way.part(size)) - wanted

    return _each(
        bench,
        "camber",
        mending_wheel.camber_ways(bench.points, bench.end),
        lambda way: nearest(way, lambda size: error(way, size), what="camber", kind="angle_fine"),
    )


def mend_drive(bench: Bench, *, wanted: float, worth: float) -> list[Option]:
    """Return the parts that bring the inner drive joint's angle at ride height to a value [rad].

    None within `worth` of it, or where no drive shaft leads to independent wheels.
    """
    now = bench.with_part().inner_joint
    if now is None or now - wanted < worth:
        return []

    def error(way: Adjustment, size: float) -> float:
        return bench.measure("inner_joint", way.part(size)) - wanted

    return _each(
        bench,
        "angle of the drive joints",
        mending_wheel.drive_ways(bench.points, bench.end),
        lambda way: nearest(way, lambda size: error(way, size), what="the inner drive joint", kind="angle"),
    )


def drag_link_ways(bench: Bench) -> tuple[Adjustment, ...]:
    """Return the ends of the drag link that may be moved: the pitman arm's and the steering arm's."""
    if "drag_link_pitman" not in bench.points:
        return ()
    pitman = "pitman" if "pitman_shaft" in bench.points else "chassis"
    return tuple(
        Adjustment(
            key="drag_link_end",
            title=title,
            end=bench.end,
            most=MOST_BRACKET,
            step=1e-3,
            changes=_shift(bench.points, (point, UP)),
            refit=("drag_link",),
            more=f"a {title} that raises the drag link's end by {{}}",
            less=f"a {title} that {verb} the drag link's end by {{}}",
        )
        for title, point, verb in (
            ("pitman arm", f"drag_link_pitman@{pitman}", "drops"),
            ("steering arm", "drag_link_axle@knuckle", "lowers"),
        )
    )


def mend_steer(bench: Bench, *, wanted: float) -> list[Option]:
    """Return the ends of the drag link to move for the least steer over the travel.

    None where the axle steers at most a twentieth of a degree over `wanted` [rad], or no end gains as much.
    """
    was = bench.with_part()
    if was.bump_steer <= wanted + _WORTH:
        return []
    found = _each(
        bench,
        "steer over the travel",
        (*drag_link_ways(bench), *mending_wheel.steer_ways(bench.points, bench.end, bench.steering)),
        lambda way: least(way, lambda size: bench.measure("bump_steer", way.part(size))),
    )
    return [o for o in found if was.bump_steer - o.after.bump_steer >= _WORTH]


def _each(bench: Bench, purpose: str, ways: Sequence[Adjustment], solve: Callable[[Adjustment], Part]) -> list[Option]:
    """Return every way that can be solved; SolverError with all reasons where ways are given and none can."""
    out: list[Option] = []
    faults: list[str] = []
    for way in ways:
        try:
            out.append(bench.option(purpose, solve(way)))
        except (SolverError, AssemblyError) as error:
            faults.append(str(error))
    if ways and not out:
        raise SolverError("; ".join(faults))
    return out
