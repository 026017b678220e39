"""The real vehicle model on a short loop, as computed and as it is: with errors that the adviser's simulation lacks."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass, field
from importlib.resources import as_file, files

import numpy as np

from panel.builds import KEYS, Build, factors
from tussock.errors import MechanicsError
from tussock.mechanics import measures as m
from tussock.mechanics.arrays import Floats
from tussock.mechanics.motion import Rest, Vehicle, kernels, pack, settle
from tussock.mechanics.motion.road_input import fill_inputs, half_steps
from tussock.mechanics.motion.simulate import STEP, History, march
from tussock.mechanics.roads import Feature, Section, Track, build
from tussock.studies import adjusters, loop
from tussock.studies.adjusters import Fittings
from tussock.studies.job import open_job
from tussock.studies.section_measures import Points

EVERY = 4  # every fourth step is kept: 250 Hz carries what is judged here, up to 40 Hz
MEASURES = ("seat", "harshness", "toss", "pitch", "peak", "float", "roll", "front_load", "rear_load")
COMFORT, CONTROL = (0, 1, 2, 3, 4), (3, 4, 5, 6, 7, 8)
"""Measures that bear on comfort and on control of a section, by the house's opinion."""
_LEAST = 1e-4  # under what is read of a measure


def _feature(kind: str, at: float, **parameters: float | str) -> Feature:
    return Feature(kind=kind, at=at, parameters=parameters)


SECTIONS = (
    Section.of_class("C", name="valley road", length=52.0, speed=80.0 / 3.6),
    Section.of_class("B", name="moor road", length=60.0, speed=80.0 / 3.6,
                     features=(_feature("dip", 8.0, length=26.0, depth=0.14),)),
    Section.of_class("D", name="fast gravel", length=42.0, speed=60.0 / 3.6),
    Section.of_class("C", name="corrugations", length=28.0, speed=50.0 / 3.6,
                     features=(_feature("corrugation", 4.0, length=22.0, wavelength=0.8, depth=0.022),)),
    Section.of_class("E", name="forest track", length=20.0, speed=30.0 / 3.6),
    Section.of_class("C", name="potholes", length=18.0, speed=30.0 / 3.6,
                     features=(_feature("hole", 3.0, length=0.7, depth=0.07, side="left"),
                               _feature("bump", 8.0, length=0.6, height=0.06, side="right"))),
)  # fmt: skip
"""Invented, like the vehicle: two seconds each of what the house's loop holds."""


@dataclass(frozen=True, kw_only=True)
class Scene:
    """What every panel has in common: the vehicle as computed, the roads, where people sit."""

    fitted: Fittings
    roads: tuple[Track, ...]
    points: Points


def open_scene() -> Scene:
    """Return the invented Tarn with its last build on the short loop."""
    with as_file(files("tussock") / "data" / "tarn") as folder:
        job = open_job(folder / "programme.yaml")
    setup = job.setup()
    fitted = adjusters.fittings(job, setup)
    track = fitted.vehicle.front.axle.track
    return Scene(
        fitted=fitted,
        roads=tuple(build(s, track=track, seed=20261) for s in SECTIONS),
        points=loop.points(job),
    )


@dataclass(frozen=True, kw_only=True)
class Errors:
    """How the vehicle differs from its model; the adviser's simulation has the neutral ones.

    Attributes
    ----------
    vehicle : mapping
        Factors on whole dampers, tyres, inertia, friction by key of the adjusters' table.
    size : array (15,)
        Of one step of each adjuster, over what is computed.
    roughness, speed : array (6,)
        Of each section, over what is computed.
    mount : float
        Factor on the stiffness of the damper mounts: what lies in series delays the force.
    """

    vehicle: Mapping[str, float] = field(default_factory=dict)
    size: Floats = field(default_factory=lambda: np.ones(len(KEYS)))
    roughness: Floats = field(default_factory=lambda: np.ones(len(SECTIONS)))
    speed: Floats = field(default_factory=lambda: np.ones(len(SECTIONS)))
    mount: float = 1.0


_SPREADS = {
    **{f"{end}_{way}": 0.18 for end in ("front", "rear") for way in ("rebound", "compression")},
    "tyre_stiffness": 0.10,
    "tyre_damping": 0.30,
    "roll_inertia": 0.12,
    "pitch_inertia": 0.12,
    "body_mass": 0.05,
    "front_seal_friction": 0.40,
    "rear_seal_friction": 0.40,
    "front_unsprung_mass": 0.06,
    "rear_unsprung_mass": 0.06,
    "cornering_stiffness": 0.15,
}
"""Standard deviation of the logarithm at model error 1; panels run at 0.5 unless asked."""


def draw_errors(random: np.random.Generator, error: float) -> Errors:
    """Return how one panel's vehicle differs from the model."""

    def around_one(spread: float, size: int | None = None) -> Floats:
        return np.exp(error * spread * np.clip(random.normal(size=size), -2.5, 2.5))

    return Errors(
        vehicle={key: float(around_one(spread)) for key, spread in _SPREADS.items()},
        size=around_one(0.12, len(KEYS)),
        roughness=around_one(0.15, len(SECTIONS)),
        speed=around_one(0.05, len(SECTIONS)),
        mount=float(around_one(0.5)),
    )


class World:
    """A vehicle that can be driven: builds to logarithms of measures (6, 9); each build is driven once.

    Attributes
    ----------
    fresh : bool
        Whether a build was driven that was not remembered.
    """

    def __init__(self, scene: Scene, errors: Errors) -> None:
        self.errors = errors
        self.points = scene.points
        base = adjusters.adjusted(scene.fitted, errors.vehicle)
        self._fitted = _refitted(scene.fitted, _mounted(base, errors.mount), errors.vehicle)
        self._inputs = tuple(
            _inputs(base, road.scaled(float(rough)), section.speed * float(pace))
            for section, road, rough, pace in zip(SECTIONS, scene.roads, errors.roughness, errors.speed, strict=True)
        )
        self._rests: dict[tuple[float, float], tuple[Rest, float, float]] = {}
        self._driven: dict[Build, Floats] = {}
        self.fresh = False

    @property
    def driven(self) -> Mapping[Build, Floats]:
        """Measures of the builds that were driven."""
        return self._driven

    def remember(self, driven: Mapping[Build, Floats]) -> None:
        """Take the measures of builds that this very vehicle drove before."""
        self._driven = {**driven, **self._driven}

    def measures(self, build: Build) -> Floats:
        """Return the logarithms of a build's measures (6, 9).

        Raises
        ------
        MechanicsError
            If it cannot be driven.
        """
        if build not in self._driven:
            self._driven[build] = self._drive(build)
            self.fresh = True
        return self._driven[build]

    def _drive(self, build: Build) -> Floats:
        told = factors(build, self.errors.size)
        vehicle = adjusters.adjusted(self._fitted, told)
        springs = (told["front_spring"], told["rear_spring"])
        if springs not in self._rests:  # dampers and bar do not move where it stands
            rest = settle(vehicle)
            self._rests[springs] = (rest, *loop.straight_running(vehicle, rest))
        rest, steer, way = self._rests[springs]
        packed = pack(vehicle, lag=0.5 * STEP)
        points = self.points.about(vehicle.body.centre)
        out = np.empty((len(SECTIONS), len(MEASURES)))
        for s, inputs in enumerate(self._inputs):
            inputs[:, kernels.IN_STEER] = steer
            velocity = np.zeros(kernels.SPEEDS)
            velocity[3] = inputs[0, kernels.IN_SPEED] * np.tan(way)
            history = march(packed=packed, rest=rest, inputs=inputs, step=STEP, every=EVERY, gravity=vehicle.gravity,
                            velocity=velocity)  # fmt: skip
            out[s] = _reduced(history, rest, points)
        if not np.all(np.isfinite(out)):
            raise MechanicsError(f"build {build} gives a measure that is not a number")
        return out


def _mounted(vehicle: Vehicle, factor: float) -> Vehicle:
    def axle(parts: adjusters.AxleParts) -> adjusters.AxleParts:
        damper = dataclasses.replace(parts.damper, mount=factor * parts.damper.mount)
        return dataclasses.replace(parts, damper=damper)

    return dataclasses.replace(vehicle, front=axle(vehicle.front), rear=axle(vehicle.rear))


def _refitted(fitted: Fittings, vehicle: Vehicle, told: Mapping[str, float]) -> Fittings:
    """Return fittings whose dampers are the vehicle's own, so that adjusters act on top of its errors."""
    ends = {}
    for end, worn in fitted.ends.items():
        scale = {(way, band): told.get(f"{end}_{way}", 1.0) for way in ("rebound", "compression")
                 for band in ("low", "mid", "high")}  # fmt: skip
        ends[end] = dataclasses.replace(worn, curve=worn.curve.scaled(scale))  # type: ignore[arg-type]
    return dataclasses.replace(fitted, vehicle=vehicle, ends=ends)


def _inputs(vehicle: Vehicle, road: Track, speed: float) -> Floats:
    n, pace = half_steps(speed, length=road.length, step=STEP)
    inputs, row = np.zeros((n, kernels.INPUTS)), np.zeros(kernels.INPUTS)
    row[kernels.IN_SPEED] = pace[0]
    fill_inputs(inputs, road, speed=pace, row=row, wheelbase=vehicle.wheelbase, step=STEP,
                contact_length=vehicle.front.tyre.contact_length)  # fmt: skip
    return inputs


def _reduced(h: History, rest: Rest, points: Points) -> Floats:
    """Return the logarithms of one section's measures (9,)."""
    vertical = m.weigh(np.ascontiguousarray(h.acceleration_at(points.seat)[:, 2]), h.step, m.WK)
    levels = m.shock_levels(vertical, h.step)
    toss = m.weigh(np.ascontiguousarray(h.acceleration_at(points.head)[:, 1]), h.step, m.WD)
    heave = -0.5 * (h.position[:, 6] + h.position[:, 8])
    load = np.std(h.wheel_load, axis=0) / rest.wheel_load
    seen = (
        m.rms(vertical),
        float(np.hypot(levels["shock_medium"], levels["shock_sharp"])),
        m.rms(toss),
        m.rms(h.velocity[:, 1]),
        float(np.max(np.abs(vertical))),
        float(np.std(heave)),
        m.rms(h.velocity[:, 0]),
        float(np.hypot(load[0], load[1])),
        float(np.hypot(load[2], load[3])),
    )
    return np.log(np.maximum(seen, _LEAST))
