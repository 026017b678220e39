"""Tables of the drive: section by section, comfort, control, flat ride, stops and heat, dampers, weights."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from tussock.mechanics import measures as m
from tussock.studies.loop import LoopIndex, SectionRun
from tussock.studies.manoeuvre_parts import STRAIGHT
from tussock.studies.result import Cell, Column, Table

WHEELS = ("front left", "front right", "rear left", "rear right")

#: Short titles of measures over a column; those not named keep the measure's own.
_SHORT = {
    "seat": "Seat",
    "ride": "All points",
    "dose": "VDV",
    "seat_peak": "MTVV",
    "crest": "Crest factor",
    "peak_ratio": "MTVV over r.m.s.",
    "dose_ratio": "VDV over r.m.s. T^1/4",
    "harshness": "Harshness",
    "toss": "Head toss",
    "toss_peak": "its peak",
    "shock_soft": "Soft, 2 to 8 Hz",
    "shock_medium": "Medium, 8 to 20 Hz",
    "shock_sharp": "Sharp, 20 to 40 Hz",
    "float": "Float",
    "load": "Load variation",
    "front_airborne": "Front off ground",
    "rear_airborne": "Rear off ground",
    "front_grip_lost": "Front grip lost",
    "rear_grip_lost": "Rear grip lost",
    "front_skate": "Front skate",
    "rear_skate": "Rear skate",
    "pitch_over_heave": "Pitch over heave",
    "pitch_rate": "Pitch rate",
    "pitch_lag": "Rear behind front",
    "stops": "Hardest stop",
    "stop_count": "Stop hits",
    "top_outs": "Droop top-outs",
    "top_out_force": "at up to",
    "bottoms": "Dampers bottomed",
    "bottom_force": "at up to",
    "drift": "Off the path",
    "roll_rate": "Roll rate",
    "hand_turned": "Hand wheel turned",
    "hand_rate": "its speed",
    "hand_work": "Work there",
    "hand_torque": "Hand torque",
}
_COMFORT = ("seat", "ride", "dose", "seat_peak", "toss", "toss_peak")
_SHOCKS = ("harshness", "shock_soft", "shock_medium", "shock_sharp")
_RATIOS = ("crest", "peak_ratio", "dose_ratio")
_CONTROL = (
    "load", "front_airborne", "rear_airborne", "front_grip_lost", "rear_grip_lost", "front_skate", "rear_skate",
    "hand_torque",
)  # fmt: skip


def column(key: str) -> Column:
    """Return the column of a measure."""
    measure = m.MEASURES[key]
    return Column(key=key, title=_SHORT.get(key, measure.title), kind=measure.kind)


def _named(runs: Sequence[SectionRun], keys: Sequence[str]) -> tuple[tuple[Cell, ...], ...]:
    return tuple((run.name, *(run.measures[key] for key in keys)) for run in runs)


def _felt(runs: Sequence[SectionRun], keys: Sequence[str]) -> tuple[str, ...]:
    """Return the keys without those of torque where the vehicle's steering is not known well enough to have one."""
    known = any(run.measures["hand_torque"] > 0.0 for run in runs)
    return tuple(key for key in keys if known or key not in ("hand_torque", "hand_work"))


def _worst(runs: Sequence[SectionRun], key: str) -> tuple[int, ...]:
    values = [run.measures[key] for run in runs]
    return (values.index(max(values)),) if max(values) > 0.0 else ()


def sections(runs: Sequence[SectionRun], index: LoopIndex, *, over: str) -> Table:
    """Return what the answer rests on: the seat and both indices of each section."""
    rows: list[tuple[Cell, ...]] = []
    whole, uneven = sum(run.share for run in runs), len({run.share for run in runs}) > 1
    for run in runs:
        comfort, control = index.by_section[run.name]
        counts = (run.share / whole,) if uneven else ()
        rows.append((run.name, *counts, run.speed, run.measures["seat"], run.reaction, comfort, control))
    return Table(
        key="sections",
        title="Section by section",
        columns=(
            Column(key="section", title="Section"),
            *((Column(key="share", title="Share", kind="share", digits=0),) if uneven else ()),
            Column(key="speed", title="Speed", kind="speed"),
            column("seat"),
            Column(key="reaction", title="Likely reaction"),
            Column(key="comfort", title=f"Comfort over {over}", kind="ratio"),
            Column(key="control", title=f"Control over {over}", kind="ratio"),
        ),
        rows=tuple(rows),
        strong=_worst(runs, "seat"),
        note="seat: ISO 2631-1 vibration total value at the driver's seat; comfort and control below 1 are better"
        + ("; share: how much the section counts in the loop's two figures" if uneven else ""),
    )


def comfort(runs: Sequence[SectionRun]) -> Table:
    """Return the measures of comfort."""
    return Table(
        key="comfort",
        title="Comfort",
        columns=(Column(key="section", title="Section"), *(column(key) for key in _COMFORT)),
        rows=_named(runs, _COMFORT),
        strong=_worst(runs, "seat"),
        note="all points: with the seat's rotations, and backrest and feet where the programme places them; VDV: "
        "vibration dose, MTVV: running peak, both vertical; head toss: lateral at the head, Wd, r.m.s. and peak",
    )


def cushion(runs: Sequence[SectionRun]) -> Table | None:
    """Return what the seat's cushion passes on; None where the seat is taken as rigid."""
    soft = [(run, run.cushion) for run in runs if run.cushion is not None]
    if not soft:
        return None
    values = [passed.value for _, passed in soft]
    return Table(
        key="cushion",
        title="What the seat's cushion passes on",
        columns=(
            Column(key="section", title="Section"),
            Column(key="rail", title="At the rail", kind="acceleration"),
            Column(key="surface", title="On the cushion", kind="acceleration"),
            Column(key="seat_value", title="SEAT value", kind="ratio"),
        ),
        rows=tuple((run.name, passed.rail, passed.surface, passed.value) for run, passed in soft),
        strong=(values.index(max(values)),),
        note="vertical, Wk-weighted r.m.s.; SEAT value: cushion over rail, below 1 the seat isolates (ISO 10326-1, "
        "from memory); the person is a published two-mass model of mean weight (Wei and Griffin 1998, parameters from "
        "memory), who does not act back on the body",
    )


def judging(runs: Sequence[SectionRun]) -> Table:
    """Return which measure the standard would report of each section, and where its criteria contradict each other."""
    return Table(
        key="judging",
        title="Which measure the standard would report",
        columns=(
            Column(key="section", title="Section"),
            *(column(key) for key in _RATIOS),
            Column(key="judge_by", title="Judge by"),
            Column(key="torn", title="Criteria"),
        ),
        rows=tuple(
            (*row, run.judge_by, "contradict" if "contradict" in run.advice else "agree")
            for row, run in zip(_named(runs, _RATIOS), runs, strict=True)
        ),
        note="vertical at the seat; ISO 2631-1 reports the r.m.s. always, dose and running peak too where the crest "
        f"factor passes {m.CREST_LIMIT:g} (6.2.1), MTVV {m.PEAK_RATIO_LIMIT:g} times the r.m.s., or VDV "
        f"{m.DOSE_RATIO_LIMIT:g} times r.m.s. T^1/4 (6.3.3, from memory); the last two may contradict each other "
        "(Griffin 1998): neither alone decides then",
    )


def shocks(runs: Sequence[SectionRun]) -> Table:
    """Return harshness by shock band."""
    return Table(
        key="shocks",
        title="Harshness by shock band",
        columns=(Column(key="section", title="Section"), *(column(key) for key in _SHOCKS)),
        rows=_named(runs, _SHOCKS),
        strong=_worst(runs, "shock_medium"),
        note="Wk-weighted vertical r.m.s. at the seat by frequency, our choice of bands: soft shocks the springs pass "
        "on, medium ones are the wheels' own bouncing and friction, sharp ones tyres, bushes, mounts; harshness: 8 to "
        "40 Hz",
    )


def control(runs: Sequence[SectionRun]) -> Table:
    """Return the measures of control."""
    keys = _felt(runs, _CONTROL)
    return Table(
        key="control",
        title="Control",
        columns=(Column(key="section", title="Section"), *(column(key) for key in keys)),
        rows=_named(runs, keys),
        strong=_worst(runs, "load"),
        note="grip lost: cornering stiffness that varying wheel loads cost the axle; skate: furthest that the axle is "
        "carried sideways within 1 s, its steer taken off"
        + ("; torque: at the hand wheel, r.m.s. about its mean" if "hand_torque" in keys else ""),
    )


def flat(runs: Sequence[SectionRun], *, wheelbase: float) -> Table:
    """Return pitch against heave and the rear's lag of each section."""
    keys = ("float", "pitch_over_heave", "pitch_rate", "pitch_lag")
    return Table(
        key="pitch",
        title="Body: float, pitch and heave",
        columns=(
            Column(key="section", title="Section"),
            Column(key="speed", title="Speed", kind="speed"),
            *(column(key) for key in keys),
            Column(key="road_lag", title="Wheelbase at that speed", kind="time"),
        ),
        rows=tuple((run.name, run.speed, *(run.measures[k] for k in keys), wheelbase / run.speed) for run in runs),
        note="pitch over heave: accelerations at half a wheelbase, 0.5 to 3 Hz; 0 rides flat, above 1 pitches; "
        "a rear that follows the front by less than the wheelbase takes has caught up",
    )


def stops(runs: Sequence[SectionRun]) -> Table:
    """Return what the ends of travel take, and the dampers' heat."""
    keys = ("stops", "stop_count", "top_outs", "top_out_force", "bottoms", "bottom_force")
    return Table(
        key="stops",
        title="Stops and heat",
        columns=(
            Column(key="section", title="Section"),
            *(column(key) for key in keys),
            Column(key="front_heat", title="A front damper", kind="power"),
            Column(key="rear_heat", title="A rear damper", kind="power"),
        ),
        rows=tuple(
            (
                run.name,
                *(run.measures[k] for k in keys),
                float(np.mean([w.power for w in run.damper[:2]])),
                float(np.mean([w.power for w in run.damper[2:]])),
            )
            for run in runs
        ),
        strong=_worst(runs, "stops"),
        note="heat: mean power while the section lasts",
    )


def steering(runs: Sequence[SectionRun]) -> Table | None:
    """Return what the sections with a manoeuvre ask of the driver; None where there are none.

    A driver who only keeps a straight road has no row: there is nothing to leave and little to turn.
    """
    keys = _felt(runs, ("drift", "hand_turned", "hand_rate", "hand_work", "hand_torque", "rear_skate", "toss_peak"))
    some = [run for run in runs if run.manoeuvre not in ("", STRAIGHT)]
    if not some:
        return None
    return Table(
        key="steering",
        title="Steering and lane",
        columns=(
            Column(key="section", title="Section"),
            Column(key="manoeuvre", title="Driven"),
            *(column(key) for key in keys[:-1]),
            Column(key="toss_peak", title="Peak at the head", kind="acceleration"),
        ),
        rows=tuple((run.name, run.manoeuvre, *(run.measures[k] for k in keys)) for run in some),
        strong=_worst(some, "drift"),
        note="off the path: furthest that the vehicle's middle is from where it should go; hand wheel turned: each way "
        "added up, 0 where it is held"
        + ("; torque: r.m.s. about its mean, what the driver feels or holds" if "hand_torque" in keys else ""),
    )


def dampers(runs: Sequence[SectionRun]) -> Table:
    """Return what each damper does over the whole loop."""
    time = np.array([run.duration for run in runs])
    rows: list[tuple[Cell, ...]] = []
    for i, wheel in enumerate(WHEELS):
        works = [run.damper[i] for run in runs]
        hottest = max(range(len(runs)), key=lambda k: works[k].power)
        rows.append(
            (
                wheel,
                float(np.average([w.power for w in works], weights=time)),
                runs[hottest].name,
                works[hottest].power,
                max(w.fastest_compression for w in works),
                max(w.fastest_rebound for w in works),
                *(float(np.average([w.bands[b] for w in works], weights=time)) for b in ("low", "mid", "high")),
            )
        )
    return Table(
        key="damper_work",
        title="What the dampers do",
        columns=(
            Column(key="wheel", title="Damper"),
            Column(key="power", title="Mean heat", kind="power"),
            Column(key="hottest", title="Hottest on"),
            Column(key="most", title="Heat there", kind="power"),
            Column(key="compression", title="Fastest in", kind="velocity"),
            Column(key="rebound", title="Fastest out", kind="velocity"),
            Column(key="low", title="Below 0.13 m/s", kind="share"),
            Column(key="mid", title="to 0.5 m/s", kind="share"),
            Column(key="high", title="above", kind="share"),
        ),
        rows=tuple(rows),
        note="means over the time of the loop",
    )


def weighing(weights: m.Weights, *, own: bool) -> Table:
    """Return what the two indices weigh; `own` says that the programme chose."""
    rows: list[tuple[Cell, ...]] = [
        (index, m.MEASURES[k].title, w)
        for index, weighed in (("comfort", weights.comfort), ("control", weights.control))
        for k, w in weighed.items()
    ]
    whose = (
        "the programme's own (targets.weights)"
        if own
        else "Tussock's; the programme may set its own in targets.weights"
    )
    return Table(
        key="weights",
        title="What the two indices weigh",
        columns=(
            Column(key="index", title="Index"),
            Column(key="measure", title="Measure"),
            Column(key="weight", title="Weight", kind="share", digits=0),
        ),
        rows=tuple(rows),
        note=f"{whose}; a judgement, not a standard: weighted geometric mean of measures over the reference's, "
        "and over the sections by their share",
    )
