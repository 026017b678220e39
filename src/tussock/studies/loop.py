"""The road loop driven by one setup: every section in time, reduced to measures."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field

import numpy as np
from scipy.interpolate import RectBivariateSpline

from tussock.errors import DomainError, InputError, MechanicsError
from tussock.mechanics import measures as m
from tussock.mechanics.arrays import Floats
from tussock.mechanics.motion import Packed, Rest, Vehicle, Workspace, pack, settle
from tussock.mechanics.motion.manoeuvres import Demand, Manoeuvre, perform
from tussock.mechanics.motion.simulate import STEP, History
from tussock.mechanics.roads import (
    CLASS_MEAN,
    Feature,
    Section,
    SpeedChange,
    Stretch,
    Track,
    build,
    fit_road,
    roughness_index,
)  # fmt: skip
from tussock.mechanics.springs import reversals
from tussock.record.manoeuvres import Braking
from tussock.record.road import RoadSection
from tussock.record.units import Quantity
from tussock.studies import manoeuvre_parts, model, parts
from tussock.studies.display import show
from tussock.studies.job import Job, Setup
from tussock.studies.section_measures import Points, reduce

EVERY = 2  # every second step is kept: 500 Hz carries the weightings
_LEAST_STROKE = 2e-4  # spring strokes below this do nothing to its life [m]
WORKERS = 2  # the stepper releases the interpreter lock


@dataclass(frozen=True, kw_only=True)
class SectionRun:
    """One section driven once.

    Attributes
    ----------
    name : str
        Of the section.
    speed : float
        Mean over the time driven [m/s].
    measures : mapping
        By key of `mechanics.measures.MEASURES`, in SI.
    reaction : str
        Likely reaction to the seat's vibration, in the standard's words.
    judge_by : str
        Which measures the standard would report of the seat's vertical vibration, in few words.
    advice : str
        The same with its reasons.
    damper : tuple of DamperWork
        Front left to rear right.
    stops : tuple of float
        Hardest hit of each stop [N].
    outside_tables : float
        Distance outside the axle maps in cells; 0 inside.
    spring_turns : tuple of array
        Longest and shortest lengths between the spring seats in time order, front left to rear right [m].
    duration : float
        Time that it takes [s].
    share : float
        How much it counts in the loop's indices, against the other sections.
    weights : Weights
        What comfort and control weigh.
    manoeuvre : str
        What is driven besides straight on with the hand wheel held, in words; "" for that.
    steered : bool
        Whether a driver steers it along its path.
    cushion : SeatPassesOn or None
        What the seat passes on where it has a cushion.
    """

    name: str
    speed: float
    measures: Mapping[str, float]
    reaction: str
    judge_by: str
    advice: str
    damper: tuple[m.DamperWork, ...]
    stops: tuple[float, ...]
    outside_tables: float
    spring_turns: tuple[Floats, ...]
    duration: float
    share: float = 1.0
    weights: m.Weights = m.HOUSE
    manoeuvre: str = ""
    steered: bool = False
    cushion: m.SeatPassesOn | None = None


def sections(job: Job) -> tuple[Section, ...]:
    """Return the loop's sections for the roads; InputError that names a section which cannot be built."""
    try:
        return tuple(_section(job, record) for record in job.programme.road_loop.sections)
    except DomainError as error:
        raise InputError(str(error)) from None


def _section(job: Job, record: RoadSection) -> Section:
    features = tuple(Feature(kind=f.kind, at=float(f.at), parameters=f.parameters()) for f in record.features)
    surface, density, waviness, stretch = record.surface, 0.0, 2.0, None
    if surface is not None and surface.file is not None:
        road = job.measured_roads.get(surface.file)
        if road is None:
            wrong = "which was not read; open the programme from its file"
            raise InputError(f"section {record.name!r} runs on {surface.file}, {wrong}")
        stretch = Stretch(road=road, start=float(surface.start), offset=float(surface.offset))
    elif surface is not None:
        waviness = float(surface.waviness)
        if surface.road_class is not None:
            density = CLASS_MEAN[surface.road_class]
        elif surface.density is not None:
            density = float(surface.density)
    changes = tuple(SpeedChange(at=float(c.at), speed=float(c.speed)) for c in record.speed_changes)
    acceleration = float(record.acceleration)
    if isinstance(record.manoeuvre, Braking):
        changes = (SpeedChange(at=float(record.manoeuvre.at), speed=float(record.manoeuvre.to_speed)),)
        acceleration = float(record.manoeuvre.deceleration)
    return Section(
        name=record.name,
        length=float(record.length),
        speed=float(record.speed),
        density=density,
        waviness=waviness,
        measured=stretch,
        features=features,
        speed_changes=changes,
        acceleration=acceleration,
    )


def tracks(job: Job, seed: int | None = None) -> Mapping[str, Track]:
    """Return the loop's roads, built once; with another seed than the loop's own where one is given."""
    seed = job.programme.road_loop.seed if seed is None else seed
    key = ("tracks", seed)
    if key not in job.memo:
        width = 0.5 * (parts.track(job, "front") + parts.track(job, "rear"))
        try:
            job.memo[key] = {s.name: build(s, track=width, seed=seed) for s in sections(job)}
        except DomainError as error:
            raise InputError(str(error)) from None
    built = job.memo[key]
    assert isinstance(built, dict)
    return built


def measured_words(job: Job) -> Mapping[str, str]:
    """Return what each section on a measured road is: the file and place, its ISO 8608 class and roughness index."""
    words: dict[str, str] = {}
    for section in sections(job):
        if section.measured is None:
            continue
        road, said = tracks(job)[section.name], [f"{section.measured.road.name}, from {section.measured.start:g} m on"]
        try:
            both = [road.left, road.right]
            said.append("class " + " and ".join(fit_road(z, road.spacing).road_class for z in both))
            index = [f"{roughness_index(z, road.spacing):.1f}" for z in both]
            said.append(f"IRI {' and '.join(index)} m/km left and right")
        except DomainError:
            pass  # too short or too level to have a class: nothing is said of it
        words[f"surface of {section.name}"] = ", ".join(said)
    return words


def drive_loop(job: Job, setup: Setup, *, vehicle: Vehicle | None = None) -> tuple[SectionRun, ...]:
    """Drive every section of the loop.

    Parameters
    ----------
    job, setup : Job, Setup
        What is driven.
    vehicle : Vehicle, optional
        A variant to drive in place of the setup's own vehicle.

    Raises
    ------
    SolverError
        If a run diverges.
    """
    key = ("loop", setup)
    if vehicle is None and key in job.memo:
        kept = job.memo[key]
        assert isinstance(kept, tuple)
        return kept
    if vehicle is None:
        job.tell(f"driving {setup.build} over the loop, {setup.fitout}")
    what = model.vehicle(job, setup) if vehicle is None else vehicle
    runs = loop_road(job, setup).drive_all(what, settle(what), threads=WORKERS)
    if vehicle is None:
        job.memo[key] = runs
    return runs


def drive_one(job: Job, setup: Setup, name: str) -> SectionRun:
    """Drive one section by its name, or take it from the whole loop's runs; SolverError if the run diverges."""
    loop, key = job.memo.get(("loop", setup)), ("section", setup, name)
    if isinstance(loop, tuple):
        job.memo[key] = next(run for run in loop if run.name == name)
    if key not in job.memo:
        section = next(s for s in sections(job) if s.name == name)
        job.memo[key] = loop_road(job, setup).drive(model.vehicle(job, setup), model.rest(job, setup), section)
    run = job.memo[key]
    assert isinstance(run, SectionRun)
    return run


@dataclass(frozen=True, kw_only=True)
class LoopRoad:
    """The loop as a vehicle meets it, without the programme: it may be sent to another process.

    Attributes
    ----------
    sections : tuple of Section
        In the order driven.
    roads : mapping
        The tracks of each section by its name.
    points : Points
        Where vibration is taken, in vehicle axes of the stock pose [m].
    shares : mapping
        How much each section counts in the loop's indices, by its name.
    weights : Weights
        What comfort and control weigh.
    manoeuvres : mapping
        What is driven on a section besides going straight on with the hand wheel held, by the section's name.
    """

    sections: tuple[Section, ...]
    roads: Mapping[str, Track]
    points: Points
    shares: Mapping[str, float]
    weights: m.Weights
    manoeuvres: Mapping[str, Manoeuvre] = field(default_factory=dict)

    def drive(self, vehicle: Vehicle, rest: Rest, section: Section) -> SectionRun:
        """Drive one section from where the vehicle stands."""
        return self._drive(Ready.of(vehicle, rest), section, Workspace())

    def drive_all(
        self, vehicle: Vehicle, rest: Rest, *, threads: int = 1, memory: Workspace | None = None
    ) -> tuple[SectionRun, ...]:
        """Drive every section from where the vehicle stands, some at once in threads where asked for.

        One thread drives them in the same memory, one after the other: in `memory` where given.
        """
        ready = Ready.of(vehicle, rest)
        if threads == 1:
            memory = Workspace() if memory is None else memory
            return tuple(self._drive(ready, section, memory) for section in self.sections)
        with ThreadPoolExecutor(threads) as pool:
            return tuple(pool.map(lambda section: self._drive(ready, section, Workspace()), self.sections))

    def history(self, vehicle: Vehicle, rest: Rest, section: Section) -> History:
        """Drive one section and return what happened."""
        made = self.manoeuvres.get(section.name)
        return history(Ready.of(vehicle, rest), self.roads[section.name], section, manoeuvre=made)[0]

    def _drive(self, ready: Ready, section: Section, memory: Workspace) -> SectionRun:
        return drive_section(
            ready,
            self.roads[section.name],
            section,
            points=self.points.about(ready.vehicle.body.centre),
            share=self.shares[section.name],
            weights=self.weights,
            memory=memory,
            manoeuvre=self.manoeuvres.get(section.name),
        )


def loop_road(job: Job, setup: Setup, *, seed: int | None = None, only: Sequence[str] | None = None) -> LoopRoad:
    """Return the loop for a setup, with the loop's own seed unless another is given, the whole of it unless `only`.

    Raises
    ------
    InputError
        For a section that the loop does not have.
    """
    every = sections(job)
    unknown = [name for name in only or () if name not in {s.name for s in every}]
    if unknown:
        known = ", ".join(s.name for s in every)
        raise InputError(f"the road loop has no section {unknown[0]!r}; it has {known}")
    return LoopRoad(
        sections=tuple(s for s in every if not only or s.name in only),
        roads={name: road for name, road in tracks(job, seed).items() if not only or name in only},
        points=points(job),
        shares={s.name: float(s.share) for s in job.programme.road_loop.sections},
        weights=weights(job),
        manoeuvres={
            record.name: made
            for record in job.programme.road_loop.sections
            if (not only or record.name in only) and (made := manoeuvre_parts.manoeuvre(job, setup, record)) is not None
        },
    )


def points(job: Job) -> Points:
    """Return where vibration is taken: at the driver's place, else at the first one of the programme.

    In vehicle axes of the stock pose [m].
    """
    places = job.programme.vehicle.places
    driver = places["driver"] if "driver" in places else next(iter(places.values()))
    soft = driver.cushion
    return Points(
        seat=driver.seat.si,
        head=driver.head.si,
        backrest=None if driver.backrest is None else driver.backrest.si,
        feet=None if driver.feet is None else driver.feet.si,
        cushion=None if soft is None else m.Cushion(stiffness=float(soft.stiffness), damping=float(soft.damping)),
    )


def weights(job: Job) -> m.Weights:
    """Return what comfort and control weigh: the programme's weights, else Tussock's own."""
    own = job.programme.targets.weights
    if own is None:
        return m.HOUSE

    def whole(index: Mapping[str, Quantity]) -> dict[str, float]:
        total = sum(w.si for w in index.values())  # 1 as the programme writes it, which may round thirds
        return {name: w.si / total for name, w in index.items()}

    return m.Weights(comfort=whole(own.comfort), control=whole(own.control))


def weights_words(job: Job) -> Mapping[str, str]:
    """Say what comfort and control weigh, to stand among the inputs of every result that rests on them."""
    told = weights(job)
    both = (("comfort weighs", told.comfort), ("control weighs", told.control))
    return {
        name: ", ".join(f"{m.MEASURES[key].title} {show(w, 'share', digits=0)}" for key, w in index.items())
        for name, index in both
    }


@dataclass(frozen=True, kw_only=True)
class Ready:
    """A vehicle ready to drive: what all sections share.

    Attributes
    ----------
    vehicle, rest : Vehicle, Rest
        What is driven, and where it stands.
    packed : Packed
        The vehicle as the stepper takes it.
    steer, sideslip : float
        Held to run straight [rad].
    """

    vehicle: Vehicle
    rest: Rest
    packed: Packed
    steer: float
    sideslip: float

    @classmethod
    def of(cls, vehicle: Vehicle, rest: Rest) -> Ready:
        """Make a vehicle ready that stands in `rest`."""
        steer, sideslip = straight_running(vehicle, rest)
        packed = pack(vehicle, lag=0.5 * STEP)
        return cls(vehicle=vehicle, rest=rest, packed=packed, steer=steer, sideslip=sideslip)


def history(
    ready: Ready,
    road: Track,
    section: Section,
    *,
    memory: Workspace | None = None,
    manoeuvre: Manoeuvre | None = None,
) -> tuple[History, Demand]:
    """Drive one section as `drive_section`; return what happened and what was asked. SolverError if it diverges."""
    try:
        return perform(
            ready.vehicle,
            road,
            manoeuvre,
            speed=section.driven_speed(STEP),
            step=STEP,
            rest=ready.rest,
            every=EVERY,
            steer=ready.steer,
            sideslip=ready.sideslip,
            packed=ready.packed,
            memory=memory,
        )
    except MechanicsError as error:
        raise type(error)(f"section {section.name!r}: {error}") from None


def drive_section(
    ready: Ready,
    road: Track,
    section: Section,
    *,
    points: Points,
    share: float = 1.0,
    weights: m.Weights = m.HOUSE,
    memory: Workspace | None = None,
    manoeuvre: Manoeuvre | None = None,
) -> SectionRun:
    """Drive one section and reduce it to measures.

    Parameters
    ----------
    ready, road, section
        What is driven, and where it goes.
    points : Points
        Where vibration is taken.
    share : float
        How much the section counts in the loop's indices.
    weights : Weights
        What comfort and control weigh.
    memory : Workspace, optional
        Where the run's arrays lie.
    manoeuvre : Manoeuvre, optional
        What is driven; straight on with the hand wheel held unless given.
    """
    vehicle, rest, way, speed = ready.vehicle, ready.rest, ready.sideslip, section.driven_speed(STEP)
    h, asked = history(ready, road, section, memory=memory, manoeuvre=manoeuvre)
    at = speed[EVERY - 1 :: EVERY] if isinstance(speed, np.ndarray) else speed
    got = reduce(
        h,
        vehicle=vehicle,
        rest=rest,
        points=points,
        speed=at,
        mean_speed=section.mean_speed,
        way=way,
        path=None if manoeuvre is None else asked.path,
        ratio=1.0 if manoeuvre is None else manoeuvre.ratio,
    )
    return SectionRun(
        name=section.name,
        speed=section.mean_speed,
        measures=got.measures,
        reaction=m.reaction(got.comfort.total),
        judge_by=got.comfort.axes[2].judge_by,
        advice=got.comfort.advice,
        damper=got.damper,
        stops=tuple(s.hardest for s in got.stops),
        outside_tables=h.outside_tables,
        spring_turns=tuple(reversals(h.spring_length[:, i], least_range=_LEAST_STROKE) for i in range(4)),
        duration=h.time.size * h.step,
        share=share,
        weights=weights,
        manoeuvre="" if manoeuvre is None else manoeuvre_parts.words(manoeuvre),
        steered=manoeuvre is not None and manoeuvre.driver is not None,
        cushion=got.cushion,
    )


def straight_running(vehicle: Vehicle, rest: Rest) -> tuple[float, float]:
    """Return the steer that the driver holds to go straight where the vehicle stands, and the sideslip then [rad].

    A lift turns the wheels through the drag link and both axles through their rods; straight on means that front and
    rear wheels point the same way, and the vehicle goes that way. Left positive.
    """

    def at(a: int, field: Floats) -> float:
        axle = vehicle.axles[a].axle
        return float(RectBivariateSpline(axle.heave, axle.roll, field).ev(rest.heave[a], rest.roll[a]))

    front, rear = (axle.axle for axle in vehicle.axles)
    way = at(1, np.mean(rear.steer, axis=2))
    return way - at(0, np.mean(front.steer, axis=2)), way


@dataclass(frozen=True, kw_only=True)
class LoopIndex:
    """Comfort and control of a loop against a reference loop: below 1 is better. By section and as a whole."""

    comfort: float
    control: float
    by_section: Mapping[str, tuple[float, float]]


def loop_index(runs: Sequence[SectionRun], reference: Sequence[SectionRun]) -> LoopIndex:
    """Return the indices of a loop against another over the same sections: their geometric mean by share."""
    pairs: dict[str, tuple[float, float]] = {}
    for run, ref in zip(runs, reference, strict=True):
        pairs[run.name] = (
            m.index(run.measures, ref.measures, run.weights.comfort),
            m.index(run.measures, ref.measures, run.weights.control),
        )
    logs = np.log(np.array(list(pairs.values())))
    comfort, control = np.exp(np.average(logs, axis=0, weights=[run.share for run in runs]))
    return LoopIndex(comfort=float(comfort), control=float(control), by_section=pairs)
