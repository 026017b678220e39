"""One section of the loop: what happens on it, at the seat and at every wheel, and how does the vehicle move?"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from tussock.errors import DomainError, InputError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.logger import spectrum
from tussock.record.road import RoadSection
from tussock.studies import loop, model, parts
from tussock.studies.display import show
from tussock.studies.drive import HALF_LANE, name_of
from tussock.studies.job import ENDS, STOCK, Job, Setup
from tussock.studies.loop import SectionRun
from tussock.studies.result import Axis, Cell, Column, Line, LineChart, Picture, Result, Role, Table
from tussock.studies.section_channels import CHANNELS, USUAL, Channel, outline
from tussock.studies.section_film import film

QUESTION = "What happens on this section?"

_MOST_POINTS = 1200  # of a history shown
_SEGMENT = 4.0  # of spectra [s]
_BAND = (0.5, 30.0)  # of spectra [Hz]
_LOST = 0.002  # share of the time off the ground from which the wheels say more than the seat
_CLASSES = 41  # of a histogram


def study(
    job: Job,
    *,
    fitout: str | None = None,
    build: str | None = None,
    against: str | None = None,
    section: str | None = None,
    channel: str = USUAL,
) -> Result:
    """Return one section driven by a build and by another: a channel's history, spectrum and histogram, and the film.

    Parameters
    ----------
    job : Job
        The programme.
    fitout, build, against : str, optional
        Which; the first fit-out, the last build, and stock unless said.
    section : str, optional
        Name of the section; the loop's first unless said.
    channel : str
        Key of `section_channels.CHANNELS`.

    Raises
    ------
    InputError
        For a section or a channel that there is not.
    """
    if channel not in CHANNELS:
        raise InputError(f"there is no channel {channel!r}; there are {', '.join(CHANNELS)}")
    setup = job.setup(fitout, build)
    other = job.setup(setup.fitout, STOCK if against is None else against)
    road = loop.loop_road(job, setup)
    name = section or road.sections[0].name
    driven = next((s for s in road.sections if s.name == name), None)
    if driven is None:
        raise InputError(f"the road loop has no section {name!r}; it has {', '.join(s.name for s in road.sections)}")
    runs = loop.drive_loop(job, setup)
    run = next(r for r in runs if r.name == name)
    ref = loop.drive_one(job, other, name)
    both = tuple(dict.fromkeys((other, setup)))
    looked = CHANNELS[channel]
    got: list[tuple[str, Role, Floats, Floats]] = []
    seen = None
    for one in both:
        vehicle = model.vehicle(job, one)
        h = loop.loop_road(job, one, only=[name]).history(vehicle, model.rest(job, one), driven)
        if one == setup:
            seen = film(job, vehicle, driven, road.roads[name], h, title=f"{name_of(one)} over the {name}")
        values = looked.read(h, loop.points(job).about(vehicle.body.centre))
        got.append((name_of(one), "stock" if one.stock else "build", h.time, np.ascontiguousarray(values)))
    assert seen is not None
    return Result(
        stage="section",
        question=QUESTION,
        answer=_answer(job, setup, other, run, ref),
        passes=True,
        provenance=job.provenance(setup, seed=job.programme.road_loop.seed),
        pictures=(seen, *_pictures(name, looked, got)),
        tables=(_strip(job, setup, runs), _channel_table(looked, got)),
        inputs={
            f"road_loop.sections.{[s.name for s in road.sections].index(name)}": name,
            "fit-out": setup.fitout,
            "build": setup.build,
            "against": other.build,
        },
        values={f"{label.replace(' ', '_')}_rms": float(np.std(values)) for label, _, _, values in got},
    )


def surface_words(record: RoadSection) -> str:
    """Say what a section runs on: its surface, then its features."""
    surface = record.surface
    said = []
    if surface is None:
        said.append("smooth")
    elif surface.file is not None:
        said.append("measured")
    elif surface.road_class is not None:
        said.append(f"class {surface.road_class}")
    else:
        said.append("random")
    kinds = dict.fromkeys(f.kind.replace("_", " ") for f in record.features)
    return ", ".join([*said, *kinds])


def limit_words(job: Job, setup: Setup, run: SectionRun) -> tuple[str, bool]:
    """Say what limits a section most, and whether it is beyond its limit.

    What is beyond a limit goes first (a damper pulled open, a stop beyond its measured curve, a lane left), then wheels
    off the ground, then a stop pressed to half its curve, then what the seat's vibration feels like.
    """
    hits = [
        (max(run.stops[2 * a : 2 * a + 2]) / float(parts.bump_stop(job, setup, end).force[-1]), end)
        for a, end in enumerate(ENDS)
    ]
    share, end = max(hits)
    if run.measures["top_outs"] > 0.0:
        return f"a damper pulled open, {run.measures['top_outs']:.0f} times", True
    if share > 1.0:
        return f"{end} bump stop beyond its measured curve", True
    if run.steered and run.measures["drift"] > HALF_LANE:
        return f"{show(run.measures['drift'], 'distance')} off its path", True
    if run.measures["airborne"] > _LOST:
        return f"wheels off the ground {show(run.measures['airborne'], 'share')} of the time", False
    if share > 0.5:
        return f"{end} bump stop at {show(share, 'share', digits=0)} of its curve", False
    return f"the seat: {run.reaction}", False


def _answer(job: Job, setup: Setup, other: Setup, run: SectionRun, ref: SectionRun) -> str:
    limit, beyond = limit_words(job, setup, run)
    text = (
        f"On the {run.name} at {show(run.speed, 'speed')} {name_of(setup)} shakes the seat by "
        f"{show(run.measures['seat'], 'acceleration')}"
    )
    if other != setup:
        text += f", {name_of(other)} by {show(ref.measures['seat'], 'acceleration')}"
    return f"{text}; what {'fails' if beyond else 'limits it'} is {limit}."


def _strip(job: Job, setup: Setup, runs: Sequence[SectionRun]) -> Table:
    rows: list[tuple[Cell, ...]] = []
    strong: list[int] = []
    for i, (record, run) in enumerate(zip(job.programme.road_loop.sections, runs, strict=True)):
        limit, beyond = limit_words(job, setup, run)
        if beyond:
            strong.append(i)
        driven = run.manoeuvre or "straight on"
        rows.append(
            (run.name, surface_words(record), driven, float(record.length), run.speed, limit, run.measures["seat"],
             run.measures["load"], max(run.stops))
        )  # fmt: skip
    return Table(
        key="strip",
        title=f"Sections of the loop, driven by {name_of(setup)}",
        columns=(
            Column(key="section", title="Section"),
            Column(key="surface", title="Surface"),
            Column(key="driven", title="Driven"),
            Column(key="length", title="Length", kind="distance", digits=0),
            Column(key="speed", title="Speed", kind="speed"),
            Column(key="limit", title="What limits"),
            Column(key="seat", title="Seat", kind="acceleration"),
            Column(key="load", title="Load variation", kind="share"),
            Column(key="stop", title="Hardest stop", kind="force_k"),
        ),
        rows=tuple(rows),
        strong=tuple(strong),
        note="seat: ISO 2631-1 vibration total value at the driver's seat; speed: mean over the time driven",
    )


def _channel_table(channel: Channel, got: Sequence[tuple[str, Role, Floats, Floats]]) -> Table:
    keys = ("least", "mean", "greatest", "deviation")
    return Table(
        key="channel",
        title=channel.title[0].upper() + channel.title[1:],
        columns=(
            Column(key="build", title="Build"),
            *(
                Column(key=key, title=title, kind=channel.kind)
                for key, title in zip(keys, ("Least", "Mean", "Greatest", "Standard deviation"), strict=True)
            ),
        ),
        rows=tuple(
            (label, float(np.min(v)), float(np.mean(v)), float(np.max(v)), float(np.std(v))) for label, _, _, v in got
        ),
    )


def _pictures(name: str, channel: Channel, got: Sequence[tuple[str, Role, Floats, Floats]]) -> tuple[Picture, ...]:
    title = channel.title[0].upper() + channel.title[1:]
    history = LineChart(
        key="history",
        title=f"{title} on the {name}",
        x=Axis(title="time", kind="time"),
        y=Axis(title=channel.title, kind=channel.kind),
        lines=tuple(_line(label, role, *outline(time, v, _MOST_POINTS)) for label, role, time, v in got),
    )
    low = min(float(np.min(v)) for *_, v in got)
    high = max(float(np.max(v)) for *_, v in got)
    if not high > low:
        return (history,)
    edges = np.linspace(low, high, _CLASSES + 1)
    middle = 0.5 * (edges[1:] + edges[:-1])
    histogram = LineChart(
        key="histogram",
        title=f"{title}: share of time at each value",
        x=Axis(title=channel.title, kind=channel.kind),
        y=Axis(title="share of time", kind="share"),
        lines=tuple(_line(label, role, middle, np.histogram(v, edges)[0] / v.size) for label, role, _, v in got),
    )
    try:
        levels = [
            (label, role, spectrum([v - np.mean(v)], float(t[1] - t[0]), segment=_SEGMENT)) for label, role, t, v in got
        ]
    except DomainError:  # shorter than a segment of the spectrum
        return history, histogram
    inside = (levels[0][2].frequency >= _BAND[0]) & (levels[0][2].frequency <= _BAND[1])
    return (
        history,
        LineChart(
            key="spectrum",
            title=f"{title}: at which frequencies",
            x=Axis(title="frequency", kind="frequency"),
            y=Axis(title="root of the spectral density, per root hertz", kind=channel.kind),
            lines=tuple(
                _line(label, role, s.frequency[inside], np.sqrt(s.density[inside])) for label, role, s in levels
            ),
        ),
        histogram,
    )


def _line(label: str, role: Role, x: Floats, y: Floats) -> Line:
    return Line(label=label, x=tuple(map(float, x)), y=tuple(map(float, y)), role=role, marked=False)
