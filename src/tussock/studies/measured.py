"""Measured: what did the vehicle do on the road, and does the model drive like it?"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from scipy.stats import t as student

from tussock.errors import DomainError, InputError
from tussock.mechanics import measures as m
from tussock.mechanics.arrays import Floats
from tussock.mechanics.identify import Sensors, motions, usual_places
from tussock.mechanics.logger import spectrum, transfer
from tussock.mechanics.motion import settle, simulate
from tussock.mechanics.motion.simulate import STEP as MOTION_STEP
from tussock.studies import loop, model
from tussock.studies.display import show
from tussock.studies.job import Job, Setup
from tussock.studies.loop import SectionRun
from tussock.studies.recordings import SEAT_STEP, STEP, Logged, SectionPass, as_driven, read_drives
from tussock.studies.result import Axis, Band, Cell, Column, Line, LineChart, Notice, Picture, Result, Table

QUESTION = "What did the vehicle do on the road, and does the model drive like it?"
APART = 0.25  # measured over simulated beyond which the model is said not to drive like the vehicle
_LEVEL = 0.9
_SEGMENT = 4.0  # of spectra [s]
_HIGHEST = 30.0  # [Hz]


@dataclass(frozen=True, kw_only=True)
class Compared:
    """One measure on one section: every pass, and the simulation."""

    section: str
    key: str
    passes: tuple[float, ...]
    simulated: float

    @property
    def mean(self) -> float:
        """Of the passes."""
        return float(np.mean(self.passes))

    @property
    def repeats(self) -> float | None:
        """Standard deviation from pass to pass; None for a single one."""
        return float(np.std(self.passes, ddof=1)) if len(self.passes) > 1 else None

    @property
    def ratio(self) -> float:
        """Measured over simulated."""
        return self.mean / self.simulated if self.simulated > 0.0 else math.inf

    @property
    def half(self) -> float | None:
        """Half the 90 % interval of the mean."""
        if self.repeats is None:
            return None
        n = len(self.passes)
        return float(student.ppf(0.5 + 0.5 * _LEVEL, n - 1)) * self.repeats / math.sqrt(n)


def measures_of(one: SectionPass) -> dict[str, float]:
    """Return the measures that a pass gives, by the keys of the simulation's."""
    out: dict[str, float] = {}
    if one.seat is not None:
        comfort = m.seat_comfort(one.seat, SEAT_STEP)
        out |= {"seat": comfort.total, "seat_peak": comfort.peak, "dose": comfort.dose, "crest": comfort.crest}
        out["harshness"] = m.harshness(np.ascontiguousarray(one.seat[:, 2]), SEAT_STEP)
    for key in ("pitch_rate", "roll_rate"):
        if key in one.channels:
            out[key] = float(np.sqrt(np.mean(one.channels[key] ** 2)))
    return out


def study(job: Job, *, fitout: str | None = None, build: str | None = None) -> Result:
    """Return the measured passes of a build against the simulation, section by section.

    Parameters
    ----------
    job : Job
        The programme.
    fitout, build : str, optional
        Which; the first fit-out and the last build unless said otherwise.

    Raises
    ------
    InputError
        No drive of them has a recording, a file cannot be used, or no pass has a sound channel that can be compared.
    """
    setup = job.setup(fitout, build)
    logged = read_drives(job, build=setup.build, fitout=setup.fitout)
    passes = [p for one in logged for p in one.passes]
    rows = _compared(job, setup, passes)
    if not rows:
        raise InputError("no pass has a sound seat, pitch or roll channel, so nothing can be compared")
    seats = [r for r in rows if r.key == "seat"] or rows
    far = max(seats, key=lambda r: abs(math.log(r.ratio)) if 0.0 < r.ratio < math.inf else math.inf)
    apart = [r for r in seats if not abs(r.ratio - 1.0) <= APART]
    mean = float(np.exp(np.mean([math.log(r.ratio) for r in seats if 0.0 < r.ratio < math.inf])))
    count = len({r.section for r in rows})
    title = m.MEASURES[far.key].title
    answer = (
        f"Over {len(passes)} passes of {count} section{'s' if count > 1 else ''} the measured {title} is "
        f"{mean:.2f} times the simulated; furthest apart is the {far.section} with {far.ratio:.2f}."
    )
    notices = [
        *_faults(logged),
        *(Notice(text=f"{one.file}: {c}", remedy=_CLOCK) for one in logged for c in one.clocks),
    ]
    if apart:
        names = ", ".join(sorted({r.section for r in apart}))
        notices.append(
            Notice(
                text=f"The model does not drive like the vehicle on {names}: more than {100 * APART:.0f} % apart",
                remedy="fit the vehicle's uncertain parameters (tussock fit), or correct the section's surface",
            )
        )
    return Result(
        stage="measured",
        question=QUESTION,
        answer=answer,
        passes=not apart,
        provenance=job.provenance(setup, seed=job.programme.road_loop.seed),
        notices=tuple(notices),
        pictures=_pictures(job, setup, passes),
        tables=(_table(rows), _files(logged)),
        inputs={"fit-out": setup.fitout, "build": setup.build, "recordings": ", ".join(one.file for one in logged)},
        values={"measured_over_simulated": mean, "passes": float(len(passes))},
    )


_CLOCK = "state clock_ahead for the dampers' channels if the logger's offset is known"


def _faults(logged: Sequence[Logged]) -> list[Notice]:
    """Return what is wrong with sensors, once for each channel of a file with its worst pass."""
    out = []
    for one in logged:
        by_channel: dict[str, list[str]] = {}
        for p in one.passes:
            for channel, found in p.faults.items():
                by_channel.setdefault(channel, []).extend(f.words for f in found if f.spoils)
        for channel, words in by_channel.items():
            if words:
                more = f", and {len(words) - 1} more" if len(words) > 1 else ""
                out.append(
                    Notice(
                        text=f"{one.file}: {channel} {words[0]}{more}; left out there",
                        remedy="look at the sensor and its cable before the next drive",
                    )
                )
    return out


def _compared(job: Job, setup: Setup, passes: Sequence[SectionPass]) -> list[Compared]:
    known = {s.name for s in job.programme.road_loop.sections}
    rows = []
    for section in dict.fromkeys(p.section for p in passes if p.section in known):
        measured = [measures_of(p) for p in passes if p.section == section]
        simulated = _simulated(job, setup, section).measures
        for key in dict.fromkeys(k for one in measured for k in one):
            values = tuple(one[key] for one in measured if key in one)
            rows.append(Compared(section=section, key=key, passes=values, simulated=simulated[key]))
    return rows


def _simulated(job: Job, setup: Setup, section: str) -> SectionRun:
    """Return a section driven by the model on the pressures of the recorded drives."""
    vehicle = as_driven(job, setup)
    if vehicle is model.vehicle(job, setup):
        return loop.drive_one(job, setup, section)
    chosen = next(s for s in loop.sections(job) if s.name == section)
    return loop.loop_road(job, setup).drive(vehicle, settle(vehicle), chosen)


def _table(rows: Sequence[Compared]) -> Table:
    cells: list[tuple[Cell, ...]] = []
    for r in rows:
        kind = m.MEASURES[r.key].kind
        spread = "one pass" if r.repeats is None else show(r.repeats, kind, digits=2)
        cells.append(
            (r.section, m.MEASURES[r.key].title, len(r.passes), show(r.mean, kind, digits=2), spread,
             show(r.simulated, kind, digits=2), r.ratio)
        )  # fmt: skip
    return Table(
        key="measured",
        title="Measured against simulated",
        columns=(
            Column(key="section", title="Section"),
            Column(key="measure", title="Measure"),
            Column(key="passes", title="Passes", kind="count"),
            Column(key="mean", title="Measured"),
            Column(key="repeats", title="Repeats within"),
            Column(key="simulated", title="Simulated"),
            Column(key="ratio", title="Measured over simulated", kind="ratio", digits=2),
        ),
        rows=tuple(cells),
        strong=tuple(i for i, r in enumerate(rows) if abs(r.ratio - 1.0) > APART),
        note="repeats within: standard deviation from pass to pass; a random section of the loop is simulated on a "
        "surface of its kind, not on the road's own: some 5 % of difference is the surface",
    )


def _files(logged: Sequence[Logged]) -> Table:
    rows: list[tuple[Cell, ...]] = []
    for one in logged:
        count = Counter(p.section for p in one.passes)
        spoilt = sorted({c for p in one.passes for c, found in p.faults.items() if any(f.spoils for f in found)})
        said = ", ".join(f"{name} x {n}" if n > 1 else name for name, n in count.items())
        rows.append((one.file, one.seconds, said, ", ".join(spoilt) or "none"))
    return Table(
        key="recordings",
        title="Recordings",
        columns=(
            Column(key="file", title="File"),
            Column(key="time", title="Length", kind="time", digits=0),
            Column(key="sections", title="Sections passed"),
            Column(key="faults", title="Channels with faults"),
        ),
        rows=tuple(rows),
    )


def simulated_channels(job: Job, setup: Setup, section: str) -> dict[str, Floats]:
    """Return what the sensors would show on a section's own simulated road, every `STEP`."""
    key = ("simulated channels", setup, section)
    if key not in job.memo:
        vehicle = as_driven(job, setup)
        rest = settle(vehicle)
        chosen = next(s for s in loop.sections(job) if s.name == section)
        seat = np.asarray(loop.points(job).seat) - np.asarray(vehicle.body.centre)
        sensors = Sensors(
            vehicle=vehicle,
            rest=rest,
            body=usual_places(vehicle),
            seat=(float(seat[0]), float(seat[1]), float(seat[2])),
        )
        steer, sideslip = loop.straight_running(vehicle, rest)
        history = simulate(
            vehicle,
            loop.tracks(job)[section],
            speed=chosen.driven_speed(MOTION_STEP),
            step=MOTION_STEP,
            rest=rest,
            every=round(STEP / MOTION_STEP),
            steer=steer,
            sideslip=sideslip,
        )
        job.memo[key] = sensors.channels(history)
    kept = job.memo[key]
    assert isinstance(kept, dict)
    return kept


def _pictures(job: Job, setup: Setup, passes: Sequence[SectionPass]) -> tuple[Picture, ...]:
    """Return spectra, a transfer function and damper speeds of the section with most passes that last long enough."""
    long = [p for p in passes if (p.end - p.start) > 2.0 * _SEGMENT]
    if not long:
        return ()
    section = Counter(p.section for p in long).most_common(1)[0][0]
    here = [p.channels for p in long if p.section == section]
    model_channels = simulated_channels(job, setup, section)
    out: list[Picture] = []
    for make in (_seat_spectrum, _hub_to_body, _damper_speed):
        try:
            picture = make(section, here, model_channels)
        except DomainError:
            picture = None
        if picture is not None:
            out.append(picture)
    return tuple(out)


def _measured_and_simulated(x: Floats, measured: Floats, simulated: Floats) -> tuple[Line, Line]:
    at = tuple(map(float, x))
    return (
        Line(label="measured", x=at, y=tuple(map(float, measured)), role="build", marked=False),
        Line(label="simulated", x=at, y=tuple(map(float, simulated)), role="stock", marked=False),
    )


def _chance(x: Floats, low: Floats, high: Floats) -> tuple[Band]:
    at, under, over = (tuple(map(float, values)) for values in (x, low, high))
    return (Band(label="chance", x=at, low=under, high=over),)


def _both(
    pieces: Sequence[Mapping[str, Floats]], simulated: Mapping[str, Floats], name: str
) -> tuple[list[Floats], list[Floats]] | None:
    """Return a motion of every pass that has it, and of the simulation; None if nobody has."""
    measured = [got[name] for p in pieces if name in (got := motions(p))]
    model_motion = motions(simulated).get(name)
    return (measured, [model_motion - np.mean(model_motion)]) if measured and model_motion is not None else None


def _seat_spectrum(
    section: str, pieces: Sequence[Mapping[str, Floats]], simulated: Mapping[str, Floats]
) -> Picture | None:
    both = _both(pieces, simulated, "seat z")
    if both is None:
        return None
    one, other = (spectrum(x, STEP, segment=_SEGMENT) for x in both)
    band = (one.frequency > 0.5) & (one.frequency <= _HIGHEST)
    f = one.frequency[band]
    level = np.sqrt(one.density[band])
    return LineChart(
        key="seat_spectrum",
        title=f"Vertical acceleration of the seat on the {section}: measured and simulated",
        x=Axis(title="frequency", kind="frequency"),
        y=Axis(title="root of the spectral density, per root hertz", kind="acceleration"),
        lines=_measured_and_simulated(f, level, np.sqrt(other.density[band])),
        bands=_chance(f, level * math.sqrt(max(1.0 - one.error, 0.0)), level * math.sqrt(1.0 + one.error)),
    )


def _hub_to_body(
    section: str, pieces: Sequence[Mapping[str, Floats]], simulated: Mapping[str, Floats]
) -> Picture | None:
    names = [f"front {stem} heave" for stem in ("hub", "body")]
    whole = [p for p in pieces if set(names) <= motions(p).keys()]
    hubs, bodies = (_both(whole, simulated, name) for name in names)
    if hubs is None or bodies is None:
        return None
    got, wanted = (transfer(hubs[i], bodies[i], STEP, segment=_SEGMENT) for i in (0, 1))
    band = (got.frequency > 0.7) & (got.frequency <= _HIGHEST) & (got.coherence > 0.3)
    f, gain, error = got.frequency[band], np.abs(got.gain[band]), got.error[band]
    return LineChart(
        key="hub_to_body",
        title=f"Front body over front hubs on the {section}, both in heave",
        x=Axis(title="frequency", kind="frequency"),
        y=Axis(title="acceleration of the body over that of the hubs", kind="ratio"),
        lines=_measured_and_simulated(f, gain, np.abs(wanted.gain[band])),
        bands=_chance(f, gain * (1.0 - np.minimum(error, 1.0)), gain * (1.0 + error)),
    )


def _damper_speed(
    section: str, pieces: Sequence[Mapping[str, Floats]], simulated: Mapping[str, Floats]
) -> Picture | None:
    both = _both(pieces, simulated, "front damper heave")
    if both is None:
        return None
    edges = np.linspace(-1.0, 1.0, 41)
    middle = 0.5 * (edges[1:] + edges[:-1])
    shares = []
    for x in both:
        speed = np.concatenate([np.gradient(one, STEP) for one in x])
        shares.append(np.histogram(np.clip(speed, -0.999, 0.999), edges)[0] / speed.size)
    return LineChart(
        key="damper_speed",
        title=f"Front dampers in heave on the {section}: share of time at each speed",
        x=Axis(title="speed, compression positive", kind="velocity"),
        y=Axis(title="share of time", kind="share"),
        lines=_measured_and_simulated(middle, *shares),
    )
