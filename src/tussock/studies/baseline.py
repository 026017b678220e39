"""Baseline: what do we have, and does the model reproduce it?"""

from __future__ import annotations

from tussock.mechanics import mass as masses
from tussock.mechanics.motion import linearise
from tussock.studies import model, parts
from tussock.studies.dampers import JUDGED, ratio_at
from tussock.studies.display import show
from tussock.studies.job import ENDS, KERB, STOCK, Job, Setup
from tussock.studies.result import Axis, Cell, Column, Line, LineChart, Notice, Result, Table
from tussock.studies.ride_frequency import ride_frequency
from tussock.studies.spring_laws import spring_law

QUESTION = "What do we have, and does the model reproduce it?"
HEIGHT_ALLOWED = 0.010  # the computed kerb height may miss the measured one by this before it is a fault [m]
RATE_ALLOWED = 0.05  # a coil's rate from its wire may differ from the measured one by this share [-]


def study(job: Job) -> Result:
    """Return the stock vehicle as weighed and measured, and how near the model comes to it.

    Parameters
    ----------
    job : Job
        The programme.

    Returns
    -------
    Result
        Passes when the model stands at the measured kerb height and on the measured corner loads.
    """
    kerb = Setup(fitout=KERB, build=STOCK)
    scales = parts.kerb_weighing(job)
    whole = parts.kerb_mass(job)
    posture = model.posture(job, kerb)
    wheelbase = float(job.programme.vehicle.wheelbase)
    notices = _notices(job, posture)
    misses = {e: -posture[e].heave for e in ENDS}
    frequency = {e: _frequency(job, kerb, e) for e in ENDS}
    front_share = 1.0 + scales.x / wheelbase
    failed = any(abs(misses[e]) > HEIGHT_ALLOWED for e in ENDS)
    return Result(
        stage="baseline",
        question=QUESTION,
        answer=(
            f"The {job.programme.programme.name} weighs {show(whole.mass, 'mass')} at kerb, "
            f"{show(front_share, 'share')} of it on the front; the model stands within "
            f"{show(max(abs(m) for m in misses.values()), 'length_fine')} of the measured heights, "
            f"and the body rides at {show(frequency['front'], 'frequency')} in front "
            f"and {show(frequency['rear'], 'frequency')} behind."
        ),
        passes=not failed,
        provenance=job.provenance(kerb),
        notices=tuple(notices),
        pictures=(_curves(job),),
        tables=(
            _weights(job, scales),
            _mass_table(job, whole, scales),
            _axle_table(job, kerb, misses, frequency),
            _springs(job),
            modes_table(job, kerb),
        ),
        inputs={
            "vehicle.corners": ", ".join(str(c) for c in _corners(job)),
            "vehicle.wheelbase": str(job.programme.vehicle.wheelbase),
            "vehicle.centre_of_gravity_height": str(job.programme.vehicle.centre_of_gravity_height or "estimated"),
        },
        values={
            "mass_kg": whole.mass,
            "front_share": front_share,
            **{f"{e}_height_miss_m": misses[e] for e in ENDS},
            **{f"{e}_ride_frequency_Hz": frequency[e] for e in ENDS},
        },
    )


def _corners(job: Job) -> tuple[object, ...]:
    c = job.programme.vehicle.corners
    return c.front_left, c.front_right, c.rear_left, c.rear_right


def _frequency(job: Job, setup: Setup, end: str) -> float:
    return ride_frequency(
        rate=model.wheel_rate(job, setup, end),
        tyre=float(job.programme.vehicle.tyre.vertical_stiffness),
        sprung_corner=parts.sprung_corner(job, setup.fitout, end),
    )


def _notices(job: Job, posture: dict[str, model.Standing]) -> list[Notice]:
    out: list[Notice] = []
    for end in ENDS:
        miss = -posture[end].heave
        if abs(miss) > HEIGHT_ALLOWED:
            out.append(
                Notice(
                    text=f"The model's {end} stands {show(abs(miss), 'length')} {'above' if miss > 0 else 'below'} the "
                    "measured kerb height",
                    remedy="check the spring's rate and free length on the spring tester, and the seats' hardpoints",
                )
            )
        spring = spring_law(job.programme.vehicle.axles[end].spring)
        coil = spring.coil
        if coil is not None and abs(coil.rate / spring.rate - 1.0) > RATE_ALLOWED:
            out.append(
                Notice(
                    text=f"The {end} coil's wire gives {show(coil.rate, 'rate')}, the spring was given as "
                    f"{show(spring.rate, 'rate')}",
                    remedy="count the active coils again, or measure the rate",
                )
            )
    vehicle = job.programme.vehicle
    if vehicle.centre_of_gravity_height is None:
        out.append(
            Notice(
                text="The height of the centre of gravity is an estimate from mass",
                remedy="tilt the vehicle (ISO 10392)",
            )
        )
    for name, test in job.dyno_tests.items():
        for warning in test.warnings:
            out.append(Notice(text=f"{name}: {warning}", remedy="look at the sweep; repeat the run if in doubt"))
    return out


def _weights(job: Job, scales: masses.Weighing) -> Table:
    names = ("front left", "front right", "rear left", "rear right")
    rest = model.rest(job, Setup(fitout=KERB, build=STOCK)).wheel_load
    rows: list[tuple[Cell, ...]] = []
    for i, (name, corner) in enumerate(zip(names, _corners(job), strict=True)):
        measured = float(corner)  # type: ignore[arg-type]
        got = float(rest[i]) / masses.GRAVITY
        rows.append((name, measured, getattr(corner, "spread", 0.0), got, got - measured))
    return Table(
        key="corners",
        title="Corner weights",
        columns=(
            Column(key="corner", title="Corner"),
            Column(key="measured", title="Weighed", kind="mass"),
            Column(key="spread", title="+-", kind="mass"),
            Column(key="model", title="Model", kind="mass"),
            Column(key="difference", title="Difference", kind="mass", digits=1, sign=True),
        ),
        rows=tuple(rows),
        note=f"cross weight {show(scales.cross, 'share')}; the model has equal springs left and right",
    )


def _mass_table(job: Job, whole: masses.MassState, scales: masses.Weighing) -> Table:
    height = job.programme.vehicle.centre_of_gravity_height
    _, scatter = masses.estimate_inertia(whole.mass)
    given = job.programme.vehicle.inertia is not None
    track = 0.5 * (parts.track(job, "front") + parts.track(job, "rear"))
    factor = masses.static_stability_factor(track=track, height=whole.centre[2])
    source = "measured" if given else "regression over 42 utility vehicles (SAE 1999-01-1336 data)"
    rows: tuple[tuple[Cell, ...], ...] = (
        ("total mass", show(whole.mass, "mass"), show(scales.mass_spread, "mass"), "scales"),
        ("centre behind front axle", show(-whole.centre[0], "length"), show(scales.x_spread, "length"), "scales"),
        ("centre to the left", show(whole.centre[1], "length", sign=True), show(scales.y_spread, "length"), "scales"),
        (
            "centre over ground",
            show(whole.centre[2], "length"),
            show(height.spread, "length")
            if height is not None
            else show(masses.estimate_height(whole.mass)[1], "length"),
            "measured" if height is not None else "regression over 42 utility vehicles",
        ),
        *(
            (
                f"{name} inertia",
                show(whole.inertia[i], "inertia"),
                "" if given else show(scatter[i], "inertia"),
                source,
            )
            for i, name in enumerate(("roll", "pitch", "yaw"))
        ),
        ("static stability factor", show(factor, "ratio"), "", "half track over height, NHTSA 65 FR 34998"),
    )
    return Table(
        key="mass",
        title="Mass and inertia",
        columns=(
            Column(key="what", title="What"),
            Column(key="value", title="Value"),
            Column(key="spread", title="+-"),
            Column(key="source", title="From"),
        ),
        rows=rows,
    )


def _axle_table(job: Job, kerb: Setup, misses: dict[str, float], frequency: dict[str, float]) -> Table:
    rows: list[tuple[Cell, ...]] = [
        (
            e,
            misses[e],
            model.wheel_rate(job, kerb, e),
            model.roll_rate(job, kerb, e),
            frequency[e],
            ratio_at(job, kerb, e, JUDGED),
            model.spring_ratio(job, kerb, e),
            model.damper_ratio(job, kerb, e),
        )
        for e in ENDS
    ]
    return Table(
        key="axles",
        title="Axles",
        columns=(
            Column(key="axle", title="Axle"),
            Column(key="miss", title="Model over measured height", kind="length_fine", sign=True),
            Column(key="wheel_rate", title="Wheel rate", kind="rate"),
            Column(key="roll_rate", title="Roll rate", kind="roll_rate"),
            Column(key="frequency", title="Ride", kind="frequency"),
            Column(key="damping", title=f"Damping ratio at {JUDGED:.2f} m/s", kind="ratio"),
            Column(key="spring_ratio", title="Spring motion ratio", kind="ratio"),
            Column(key="damper_ratio", title="Damper motion ratio", kind="ratio"),
        ),
        rows=tuple(rows),
    )


def _springs(job: Job) -> Table:
    rows: list[tuple[Cell, ...]] = []
    for end in ENDS:
        spring = spring_law(job.programme.vehicle.axles[end].spring)
        coil = spring.coil
        rows.append(
            (
                end,
                spring.rate,
                spring.rate_spread,
                coil.rate if coil else None,
                spring.free_length,
                coil.solid_length if coil else None,
                coil.solid_stress if coil else None,
            )
        )
    return Table(
        key="springs",
        title="Stock springs",
        columns=(
            Column(key="axle", title="Axle"),
            Column(key="rate", title="Rate", kind="rate"),
            Column(key="spread", title="+-", kind="rate"),
            Column(key="rate_from_wire", title="Rate from its wire", kind="rate"),
            Column(key="free", title="Free length", kind="length"),
            Column(key="solid", title="Solid", kind="length"),
            Column(key="stress", title="Stress at solid", kind="stress"),
        ),
        rows=tuple(rows),
    )


def modes_table(job: Job, setup: Setup, *, speed: float = 20.0) -> Table:
    """Return the modes of a setup from the linear twin at a speed [m/s]."""
    found = linearise(model.vehicle(job, setup), speed=speed)
    rows: list[tuple[Cell, ...]] = [
        (mode.shape, mode.frequency, mode.damping)
        for mode in found.modes
        if mode.frequency > 0.2 and mode.damping < 1.0
    ]
    return Table(
        key="modes",
        title=f"Modes at {show(speed, 'speed')}, small motions",
        columns=(
            Column(key="mode", title="Mode"),
            Column(key="frequency", title="Frequency", kind="frequency"),
            Column(key="damping", title="Damping ratio", kind="ratio"),
        ),
        rows=tuple(rows),
        note="damper friction left out, so the dampers count with their slope at rest",
    )


def _curves(job: Job) -> LineChart:
    """Return the stock dampers' curves, with the peak points of their sweeps where they have any."""
    lines: list[Line] = []
    for end in ENDS:
        damper = job.programme.vehicle.axles[end].damper
        curve = parts.fitted(job, Setup(fitout=KERB, build=STOCK), end).curve
        if damper.dyno is not None:
            test = job.dyno_tests[damper.dyno]
            x, y = tuple(p.velocity for p in test.points), tuple(p.force for p in test.points)
            lines.append(Line(label=f"{end}, dyno", x=x, y=y, dots=True))
            curve = test.curve
        v, f = curve.velocity, curve.force
        lines.append(Line(label=f"{end}, curve", x=tuple(map(float, v)), y=tuple(map(float, f)), role="stock"))
    return LineChart(
        key="stock_dampers",
        title="Stock dampers: their curves, and the peak forces of their sweeps",
        x=Axis(title="speed, compression positive", kind="velocity"),
        y=Axis(title="force", kind="force"),
        lines=tuple(lines),
    )
