"""Where every joint of an axle goes over heave, roll and steer: solved poses on a grid, for a picture moved by hand.

Stock and kit are each followed from their own ride height, so that equal travel can be laid over each other. Points are
in vehicle axes, the body standing still. What the linkage cannot reach is NaN, never a guess.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Literal, TypeAlias

import numpy as np

from tussock.errors import AssemblyError, InputError, SolverError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.linkage import Axle
from tussock.studies import model
from tussock.studies.job import ENDS, KERB, STOCK, Job, Setup
from tussock.studies.linkage_members import Member, Spot, sketch
from tussock.studies.linkage_solved import Poses, Steered, axle_poses, drag_link_steered, pitman_steered, wheel_poses
from tussock.studies.suspensions import Suspension

_STEPS, _ROLLS, _TURNS = 11, 7, 9  # nodes over travel, roll and steer
_ROLL = np.radians(6.0)
_PITMAN = np.radians(32.0)
_SLIDE = 0.08  # of a rack, or of the drag link's end [m]

Curve: TypeAlias = Literal["steer", "camber", "caster", "roll_centre", "sideways"]


@dataclass(frozen=True, kw_only=True)
class Slider:
    """One thing that is moved by hand: its key and words, the kind of its numbers and the nodes of the grid."""

    key: str
    title: str
    kind: str
    values: tuple[float, ...]


@dataclass(frozen=True, kw_only=True)
class Figures:
    """A characteristic over the grid: lines by name, each (travel, roll, steer)."""

    key: str
    title: str
    kind: str
    lines: dict[str, Floats]


@dataclass(frozen=True, kw_only=True)
class Model:
    """One state of an axle over the grid.

    Attributes
    ----------
    label, role : str
        "stock" or the build's name.
    points : array (travel, roll, steer, points, 3)
        [m]; NaN where the linkage does not reach.
    figures : tuple of Figures
    ride : float
        Heave at ride height from stock kerb [m].
    """

    label: str
    role: Literal["stock", "build"]
    points: Floats
    figures: tuple[Figures, ...]
    ride: float


@dataclass(frozen=True, kw_only=True)
class LinkagePoses:
    """An axle that can be moved by hand.

    Attributes
    ----------
    end, title : str
    sliders : tuple of Slider
        Travel from ride height, roll, and what steers where something does.
    spots : tuple of Spot
        Every point, in the order of `Model.points`.
    members : tuple of Member
        What joins them.
    wheels : tuple of (int, int, int)
        Centre, a point outward on the axis, and the lowest point of either wheel.
    radius : float
        Of the wheels [m].
    models : tuple of Model
        Stock, then the build.
    notes : tuple of str
        What the picture does not show, in words.
    """

    end: str
    title: str
    sliders: tuple[Slider, ...]
    spots: tuple[Spot, ...]
    members: tuple[Member, ...]
    wheels: tuple[tuple[int, int, int], ...]
    radius: float
    models: tuple[Model, ...]
    notes: tuple[str, ...] = field(default=())


def linkage_poses(job: Job, end: str, *, fitout: str | None = None, build: str | None = None) -> LinkagePoses:
    """Return an axle over its travel, roll and steer, as measured and with the kit.

    Parameters
    ----------
    job : Job
    end : str
        "front" or "rear".
    fitout, build : str, optional
        Whose ride height and parts; the first and the last unless said.

    Raises
    ------
    InputError
        There is no such axle, or nothing of it can be moved.
    """
    if end not in ENDS:
        raise InputError(f"there is no axle {end!r}; front or rear")
    setup = job.setup(fitout, build)
    kerb = Setup(fitout=KERB, build=STOCK)
    travel = _travel(job, end)
    states = [("stock", kerb)] if setup.stock else [("stock", kerb), (setup.build, setup)]
    built = [model.axle(job, end, stock=s.stock, setup=s) for _, s in states]
    drawings = [sketch(one) for one in built]
    drawing = drawings[0]
    if any([t.name for t in d.spots] != [t.name for t in drawing.spots] for d in drawings):
        raise InputError(
            f"the kit's {end} axle has other joints than the stock one, so they cannot be laid over each other"
        )
    steered = [_steered(job, end, s, one) for (_, s), one in zip(states, built, strict=True)]
    rides = [model.posture(job, s)[end].heave for _, s in states]

    def poses(roll: float, turn: float) -> list[Poses]:
        rolls, turns = _even(roll, _ROLLS), _even(turn, _TURNS)
        return [
            axle_poses(drawn, how, ride + travel, rolls, turns)
            if isinstance(one, Axle)
            else wheel_poses(drawn, one, ride + travel, rolls, turns)
            for one, drawn, how, ride in zip(built, drawings, steered, rides, strict=True)
        ]

    most = {"pitman": _PITMAN, "rack": _SLIDE, "link": _SLIDE}.get(steered[0].kind, 0.0)
    solved, roll, turn = _reached(poses, most)
    return LinkagePoses(
        end=end,
        title=f"{end.capitalize()} {'axle' if isinstance(built[0], Axle) else 'wheels'}",
        sliders=_sliders(travel, _even(roll, _ROLLS), _even(turn, _TURNS), steered[0]),
        spots=drawing.spots,
        members=drawing.members,
        wheels=drawing.wheels,
        radius=drawing.radius,
        models=tuple(
            Model(
                label=label,
                role="stock" if label == STOCK else "build",
                points=got.points,
                figures=_figures(got),
                ride=ride,
            )
            for (label, _), got, ride in zip(states, solved, rides, strict=True)
        ),
        notes=_notes(steered[0]),
    )


def _travel(job: Job, end: str) -> Floats:
    """Return the grid of travel from ride height: what the targets ask for, a tenth more either way [m]."""
    targets = job.programme.targets
    down, up = 1.1 * float(targets.droop[end]), 1.1 * float(targets.bump[end])
    half = _STEPS // 2
    return np.concatenate([np.linspace(-down, 0.0, half + 1), np.linspace(0.0, up, half + 1)[1:]])


def _even(most: float, count: int) -> Floats:
    return np.linspace(-most, most, count) if most > 0.0 else np.zeros(1)


def _steered(job: Job, end: str, setup: Setup, built: Suspension) -> Steered:
    """Return what steers an axle: its pitman arm or rack, or else the end of its drag link along the link."""
    if not isinstance(built, Axle):
        return Steered(kind="fixed" if built.steering == "fixed" else "rack" if built.steering == "rack" else "pitman")
    if built.moves_steering:
        return pitman_steered(built)
    if any(e.name == "drag_link" for e in built.linkage.elements):
        changes, rods = ({}, {}) if setup.stock else (model.kit_changes(job, end), model.kit_rods(job, end))

        def with_link(length: float) -> Axle:
            made = model.build(job, end, changes=changes, rod_lengths={**rods, "drag_link": length}, setup=setup)
            assert isinstance(made, Axle)
            return made

        return drag_link_steered(built, with_link)
    return Steered(kind="fixed", at=lambda turn: built)


def _reached(poses: Callable[[float, float], list[Poses]], most: float) -> tuple[list[Poses], float, float]:
    """Return the poses over the widest ranges of roll and steer that can be solved."""
    why = ""
    for share in (1.0, 0.75, 0.5, 0.25):
        try:
            return poses(share * _ROLL, share * most), share * _ROLL, share * most
        except (SolverError, AssemblyError) as error:
            why = str(error)
    raise InputError(f"this linkage cannot be moved: {why}")


def _sliders(travel: Floats, roll: Floats, turn: Floats, steered: Steered) -> tuple[Slider, ...]:
    out = [
        Slider(key="travel", title="Travel from ride height, bump up", kind="length", values=_floats(travel)),
        Slider(key="roll", title="Roll, left wheel up", kind="angle", values=_floats(roll)),
    ]
    if turn.size > 1:
        title, kind = _STEERS[steered.kind]
        out.append(Slider(key="steer", title=title, kind=kind, values=_floats(turn)))
    return tuple(out)


_STEERS = {
    "pitman": ("Steer: pitman arm, left", "angle"),
    "rack": ("Steer: rack to the left", "length"),
    "link": ("Steer: end of the drag link along the link, left", "length"),
}


def _figures(got: Poses) -> tuple[Figures, ...]:
    titles: tuple[tuple[Curve, str, str], ...] = (
        ("steer", "Steer of the wheels, left", "angle_fine"),
        ("camber", "Camber, top outward", "angle_fine"),
        ("caster", "Caster", "angle_fine"),
        ("roll_centre", "Roll centre over ground", "length"),
        (
            "sideways",
            "Contact, outward" if "left" in got.figures.get("sideways", {}) else "Axle to the left",
            "length_fine",
        ),
    )
    return tuple(
        Figures(key=key, title=title, kind=kind, lines=got.figures[key])
        for key, title, kind in titles
        if key in got.figures
    )


def _notes(steered: Steered) -> tuple[str, ...]:
    out = ["The kit as its programme says; parts that this page finds are not in it until they stand in kit.changes"]
    if steered.kind == "link":
        out.append(
            "The steering box's shaft is not measured, so the end of the drag link moves along the link; "
            "write pitman_shaft among the hardpoints to turn the arm"
        )
    return tuple(out)


def _floats(values: Floats) -> tuple[float, ...]:
    return tuple(map(float, values))
