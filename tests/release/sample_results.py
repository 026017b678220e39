"""Results of an invented wagon for tests of the faces. Every figure here is invented and none was computed."""

from __future__ import annotations

import math

from tussock.studies.result import (
    Axis,
    Column,
    Drawing,
    Line,
    LineChart,
    Mark,
    Notice,
    Provenance,
    Result,
    Row,
    RowChart,
    Rung,
    Shape,
    Span,
    SpanChart,
    Table,
)

PROVENANCE = Provenance(
    programme="Tarn",
    digest="3f1c9a7e2b64d0588a1e",
    tussock="0.1.0",
    data="invented",
    fitout="full rescue load",
    build="B",
    seed=2041,
)


def travel_chart() -> SpanChart:
    return SpanChart(
        key="travel_ladder",
        title="Wheel travel from kerb height, and what ends it",
        y=Axis(title="wheel travel", kind="length"),
        zero_label="ride height",
        spans=(
            Span(group="Front", label="stock", low=-0.089, high=0.081, role="stock"),
            Span(
                group="Front",
                label="kit +35",
                low=-0.074,
                high=0.083,
                rungs=(
                    Rung(text="coil bind, 28 mm left", at=0.110),
                    Rung(text="track rod to sump, 12 mm left", at=0.095),
                    Rung(text="bump stop at 3 g", at=0.083),
                    Rung(text="brake hose, 8 mm left", at=-0.074, governs=True),
                    Rung(text="damper open, 12 mm left", at=-0.077),
                    Rung(text="propshaft joint, 23 mm left", at=-0.078),
                    Rung(text="spring loose, 39 mm left", at=-0.112),
                    Rung(text="arm bush", at=-0.4),
                ),
            ),
            Span(group="Rear", label="stock", low=-0.099, high=0.088, role="stock"),
            Span(
                group="Rear",
                label="kit +35",
                low=-0.082,
                high=0.090,
                rungs=(
                    Rung(text="damper closed", at=0.105),
                    Rung(text="bump stop at 3 g", at=0.090),
                    Rung(text="damper open, 16 mm left", at=-0.082, governs=True),
                    Rung(text="brake hose, 13 mm left", at=-0.094),
                ),
            ),
        ),
    )


def damper_chart() -> LineChart:
    v = tuple(-1.0 + 0.05 * i for i in range(41))

    def curve(bump: float, rebound: float) -> tuple[float, ...]:
        return tuple(math.copysign(abs(x) ** 0.7, x) * (bump if x > 0 else rebound) for x in v)

    return LineChart(
        key="damper_force",
        title="Front damper force over velocity",
        x=Axis(title="velocity, compression positive", kind="velocity"),
        y=Axis(title="force", kind="force"),
        lines=(
            Line(label="stock, measured", x=v, y=curve(620, 1180), role="stock"),
            Line(label="build A", x=v, y=curve(800, 1700)),
            Line(label="build B", x=v, y=curve(815, 2000)),
            Line(label="build C, firmer in rebound and in bump", x=v, y=curve(830, 2300)),
            Line(label="dyno points of build B", x=v[::4], y=curve(812, 2050)[::4], dots=True),
            Line(label="what the mount holds", x=(-1.0, 1.0), y=(900.0, 900.0), role="governs"),
        ),
        marks=(
            Mark(text="body control", x=-0.3),
            Mark(text="wheel hop", x=-0.1),
            Mark(text="knee", x=0.2, y=300.0),
            Mark(text="cavitation limit", y=-2400.0, role="governs"),
        ),
    )


def axle_drawing() -> Drawing:
    rod = ((0.424, 0.424), (-0.458, 0.352))
    lifted = ((0.424, 0.459), (-0.458, 0.352))
    return Drawing(
        key="front_axle",
        title="Front axle from behind, at kerb height and lifted 35 mm",
        plane="y-z, seen from behind",
        shapes=(
            Shape(label="track rod, stock", points=rod, role="stock"),
            Shape(label="track rod, kit +35", points=lifted),
            Shape(label="axle", points=((0.75, 0.361), (-0.75, 0.361)), role="plain"),
            Shape(label="tyres", points=((0.75, 0.361), (-0.75, 0.361)), role="plain", circle=0.1),
            Shape(label="sump", points=((0.06, 0.518), (-0.16, 0.512), (-0.16, 0.6), (0.06, 0.6)), closed=True),
            Shape(label="least clearance", points=((-0.16, 0.512), (-0.16, 0.42)), role="governs"),
        ),
        marks=(Mark(text="roll centre", x=0.0, y=0.388), Mark(text="ground", y=0.0)),
    )


def travel_result() -> Result:
    return Result(
        stage="travel",
        question="How far may it droop and bump, and so how far may it be lifted?",
        answer="The front may rise 43 mm; the brake hose stops it. The rear may rise 51 mm; the damper's open length "
        "stops it. At the 35 mm target both axles keep at least 72 mm of droop.",
        passes=True,
        provenance=PROVENANCE,
        notices=(
            Notice(
                text="The front brake hose keeps 8 mm at full droop.",
                remedy="Fit a hose 15 mm longer, or move its chassis bracket down 12 mm.",
            ),
        ),
        pictures=(travel_chart(),),
        tables=(
            Table(
                key="limiters",
                title="What ends the travel",
                columns=(
                    Column(key="limiter", title="Limiter"),
                    Column(key="where", title="Where"),
                    Column(key="stops_at", title="stops at", kind="length", sign=True),
                    Column(key="margin", title="margin", kind="length"),
                    Column(key="rolled", title="in 5 deg roll", kind="length"),
                    Column(key="checked", title="checked"),
                    Column(key="remedy", title="What to do"),
                ),
                rows=(
                    ("brake hose, front left", "droop", -0.081, 0.008, 0.002, True, "a hose 15 mm longer gives 58 mm"),
                    ("damper open, rear", "droop", -0.089, 0.016, 0.009, True, ""),
                    ("track rod to sump, front", "bump", 0.094, 0.012, None, False, "an 18 mm spacer keeps it"),
                ),
                strong=(0,),
                note="Margins at the 35 mm target.",
            ),
        ),
        inputs={"target lift, front": "35 mm", "required droop": "70 mm", "brake hose, free length": "426 mm +- 3 mm"},
        values={"front_lift_m": 0.043, "rear_lift_m": 0.051, "front_stops": "brake hose"},
    )


def dampers_result() -> Result:
    columns = [Column(key="velocity", title="velocity", kind="velocity", sign=True)]
    names = ("stock", "build A", "build B", "build C")
    columns += [
        Column(key=f"{axle}_{name}_{side}".replace(" ", "_"), title=f"{axle} {name} {side}", kind="force")
        for axle in ("front", "rear")
        for name in names
        for side in ("bump", "rebound")
    ]
    rows = tuple(
        (0.05 * k, *(((-1.0) ** i) * (300.0 + 40.0 * i) * k for i in range(len(columns) - 1))) for k in range(1, 9)
    )
    return Result(
        stage="dampers",
        question="What is inside the damper?",
        answer="Build B holds 0.31 of critical damping in front; at 0.5 m/s it makes −1,240 N in rebound.",
        passes=False,
        provenance=PROVENANCE,
        notices=(Notice(text="Build C cavitates from 0.9 m/s.", remedy="Raise the gas pressure to 12 bar."),),
        pictures=(damper_chart(), axle_drawing()),
        tables=(
            Table(
                key="forces",
                title="Force over velocity",
                columns=tuple(columns),
                rows=rows,
                note="Rebound is negative.",
            ),
        ),
        inputs={"builds": "A, B, C"},
        values={"front_damping_ratio": 0.31},
    )


def baseline_result() -> Result:
    return Result(
        stage="baseline",
        question="What do we have?",
        answer="It weighs 1,750 kg at kerb, 52.1 % of it in front; ride frequencies are 1.34 Hz and 1.52 Hz.",
        passes=True,
        provenance=PROVENANCE,
        tables=(
            Table(
                key="corners",
                title="Corner weights",
                columns=(
                    Column(key="corner", title="Corner"),
                    Column(key="mass", title="mass", kind="mass"),
                    Column(key="share", title="share", kind="share"),
                ),
                rows=(
                    ("front left", 459.0, 0.262),
                    ("front right", 453.0, 0.259),
                    ("rear left", 421.0, 0.2406),
                    ("rear right", 417.0, 0.2383),
                ),
            ),
        ),
        values={"mass_kg": 1750.0},
    )


def sample_results() -> tuple[Result, ...]:
    return (baseline_result(), travel_result(), dampers_result())


def row_chart(*, bars: bool = False) -> RowChart:
    """Three builds against a fourth, one of them not to be told apart; or three effects as bars."""
    rows = (
        Row(group="Discomfort", label="soft", at=0.042, low=0.031, high=0.053, text="+4.2 % (+3.1 to +5.3)"),
        Row(
            group="Discomfort",
            label="firm",
            at=-0.004,
            low=-0.011,
            high=0.003,
            role="plain",
            text="cannot be told apart",
        ),
        Row(group="Loss of control", label="stock", at=0.12, low=0.10, high=0.14, role="stock", text="+12.0 %"),
        Row(group="Loss of control", label="firm", at=-0.08, low=-0.09, high=-0.07, role="governs"),
    )
    title = "Builds against B1 on the same 8 roads: left of the line is better"
    return RowChart(
        key="rows", title=title, x=Axis(title="change", kind="share"), rows=rows, zero_label="as B1", bars=bars
    )
