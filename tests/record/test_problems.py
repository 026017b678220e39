"""One fault at a time in the invented Tarn programme: each is found, at its field, in words, with an example."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from tussock.record import Problem, ProgrammeError, loads

Spoil = Callable[[str, str], tuple[Problem, ...]]

FRONT = "vehicle.axles.front"

# what stands in the demo, what is put there, field path, words that must be said, example that must be offered
FAULTS: list[tuple[str, str, str, str, str]] = [
    # names
    ("wheelbase: 2700 mm +- 3 mm", "wheelbse: 2700 mm", "vehicle.wheelbse", "did you mean 'wheelbase'?", "wheelbase"),
    ("limit: 14 deg", "limitt: 14 deg", f"{FRONT}.limiters.2.limitt", "did you mean 'limit'?", "limit"),
    ("layout: arms_track_rod", "layout: arms_trackrod", f"{FRONT}.layout", "did you mean", "arms_track_rod"),
    ("kind: joint, joint", "kind: joynt, joint", f"{FRONT}.limiters.2", "did you mean 'joint'?", "joint"),
    ("kind: joint, joint", "joint", f"{FRONT}.limiters.2", "kind is missing", "kind: line"),
    ("kind: hole, at: 40", "kind: hoole, at: 40", "road_loop.sections.6.features.0", "'hole'?", "hole"),
    ("side: left}", "side: lft}", "road_loop.sections.6.features.0.side", "'left'?", "left"),
    ("class: B", "class: Z", "road_loop.sections.0.surface.class", "known: A, B", "A"),
    ("front_standard:\n", "front standard:\n", "kit.springs.front standard", "not a name", "front_standard"),
    ("front_5:", "stock:", "kit.packers.stock", "name of the vehicle as measured", ""),
    # units
    ("wheelbase: 2700 mm +- 3 mm", "wheelbase: 2700", "vehicle.wheelbase", "has no unit", "2700 mm"),
    ("wheelbase: 2700 mm +- 3 mm", "wheelbase: 2700 kg", "vehicle.wheelbase", "is a mass", "2700 mm"),
    ("wheelbase: 2700 mm +- 3 mm", "wheelbase: 2700 m", "vehicle.wheelbase", "did you mean 2700 mm?", "2700 mm"),
    ("rate: 21.5 N/mm", "rate: 21.5 N/m", f"{FRONT}.spring.rate", "did you mean 21.5 N/mm?", "21.5 N/mm"),
    ("radial: 6.0 kN/mm", "radial: 6.0 N/m", f"{FRONT}.bushes.arm_chassis.radial", "did you mean 6 kN/mm?", "6 kN/mm"),
    ("conical: 28 N m/deg", "conical: 28 N m", f"{FRONT}.bushes.arm_chassis.conical", "is a torque", "28 N m/deg"),
    ("limit: 14 deg", "limit: 14", f"{FRONT}.limiters.2.limit", "did you mean 14 deg?", "14 deg"),
    ("pressure: 2.4 bar", "pressure: 2.4 Pa", "vehicle.tyre.pressure", "did you mean 2.4 bar?", "2.4 bar"),
    ("bump_force: 3 g", "bump_force: 3 kN", "targets.bump_force", "is a force", "3 g"),
    ("friction: 0.85", "friction: 0.85 mm", "vehicle.tyre.friction", "is a length", "0.85"),
    ("inclination: -1.2 %", "inclination: -1.2", "vehicle.headlamp.inclination", "has no unit", "-1.2 %"),
    ('"10 mm: 260 N"', '"10 mm: 260"', f"{FRONT}.stop.curve.1", "has no unit", "260 N"),
    ("spring_axle: 4, 462, 432 mm", "spring_axle: 4, 462, 432", f"{FRONT}.hardpoints.spring_axle", "no unit", ""),
    ("spring_axle: 4, 462, 432 mm", "spring_axle: 4, 462, 432 m", f"{FRONT}.hardpoints.spring_axle", "is the unit", ""),
    ("spring_axle: 4, 462, 432 mm", "spring_axle: 4, 462 mm", f"{FRONT}.hardpoints.spring_axle", "wanted three", ""),
    ("spring_axle: 4, 462, 432 mm", "spring_axle: [4, 462, 432]", f"{FRONT}.hardpoints.spring_axle", "a list", ""),
    ('chassis: "-170, 330, 640 mm"', "chassis: -170, 330, 640 mm", f"{FRONT}.limiters.0.330", "in quotes", ""),
    # impossible values
    ("wheelbase: 2700 mm +- 3 mm", "wheelbase: 0 mm", "vehicle.wheelbase", "must be positive", "2700 mm"),
    ("wheelbase: 2700 mm +- 3 mm", "wheelbase: .nan", "vehicle.wheelbase", "no unit", "2700 mm"),
    ("wheelbase: 2700 mm +- 3 mm", "wheelbase: inf mm", "vehicle.wheelbase", "not a finite number", "2700 mm"),
    ("friction: 0.85", "friction: .inf", "vehicle.tyre.friction", "not a finite number", "0.85"),
    ("friction: 0.85", "friction: .nan", "vehicle.tyre.friction", "not a finite number", "0.85"),
    ("front_left: 459 kg", "front_left: -459 kg", "vehicle.corners.front_left", "must be positive", "459 kg"),
    ("mass: 152 kg", "mass: 952 kg", f"{FRONT}.mass", "not below what its wheels weigh", ""),
    ("gross_mass: 2650 kg", "gross_mass: 1650 kg", "vehicle.gross_mass", "below the kerb mass", ""),
    ("open_length: 582 mm", "open_length: 282 mm", f"{FRONT}.damper.open_length", "longer open than closed", "582 mm"),
    ("open_length: 606 mm", "open_length: 306 mm", "kit.dampers.front_a.open_length", "longer open than closed", ""),
    ("mean_diameter: 125 mm", "mean_diameter: 25 mm", f"{FRONT}.spring.mean_diameter", "cannot be wound", "111 mm"),
    ("free_length: 459 mm", "free_length: 259 mm", f"{FRONT}.spring.free_length", "loose at kerb", ""),
    ('"10 mm: 260 N"', '"30 mm: 260 N"', f"{FRONT}.stop.curve.2", "must rise", "10 mm: 260 N"),
    ('"0 mm: 0 N", "10 mm: 260 N"', '"1 mm: 9 N", "10 mm: 260 N"', f"{FRONT}.stop.curve.0", "touches", "0 mm: 0 N"),
    ("free_height: 78 mm", "free_height: 50 mm", f"{FRONT}.stop.curve.6", "whole height", ""),
    ("length: 426 mm", "length: 226 mm", f"{FRONT}.limiters.0.length", "it would be torn", ""),
    ("least: 1.15 Hz", "least: 1.95 Hz", "targets.ride_frequency.front.least", "above the most", "1.60 Hz"),
    ("least: 0.20, most", "least: 0.80, most", "targets.damping_ratio.least", "above the most", "0.5"),
    ("least: 2.0 deg", "least: 5.0 deg", "targets.caster.least", "above the most", "4.5 deg"),
    (
        "at: 40 m, length: 0.7 m",
        "at: 159.9 m, length: 0.7 m",
        "road_loop.sections.6.features.0.at",
        "beyond",
        "159.3 m",
    ),
    ("seed: 20261", "seed: abc", "road_loop.seed", "whole number", "20261"),
    ("date: 2026-09-14", "date: 14.9.2026", "decisions.0.date", "year-month-day", "2026-09-14"),
    ("date: 2026-09-14", "date: 2026-02-30", "decisions.0.date", "no such day", "2026-09-14"),
    # hardpoints
    (
        "spring_axle: 4, 462, 432 mm",
        "spring_axle: 4, 462, 832 mm",
        f"{FRONT}.hardpoints.spring_axle",
        "seat on the axle is not below its mount",
        "",
    ),
    ("damper_axle: -62, 545, 318 mm", "damper_axle: -62, 545, 918 mm", f"{FRONT}.hardpoints.damper_axle", "below", ""),
    ("spring_axle: 4, 462", "spring_axel: 4, 462", f"{FRONT}.hardpoints.spring_axel", "'spring_axle'?", "spring_axle"),
    ("spring_axle: 4, 462", "spring_axel: 4, 462", f"{FRONT}.hardpoints.spring_axle", "missing", ""),
    (
        "track_rod_axle: 118, -458, 352",
        "track_rod_axle: 118, 424, 424",
        f"{FRONT}.hardpoints.track_rod_chassis",
        "length",
        "",
    ),
    ("king_pin_upper: -5, 612, 462", "king_pin_upper: 6, 642, 258", f"{FRONT}.hardpoints.king_pin_upper", "length", ""),
    (
        "lower_link_axle: -2688, 478, 302",
        "lower_link_axle: -1934, 436, 372",
        "vehicle.axles.rear.hardpoints.lower_link_chassis",
        "length",
        "",
    ),
    (
        "        upper_link_chassis: -2262, 386, 521 mm +- 2 mm\n",
        "",
        "vehicle.axles.rear.hardpoints.upper_link_chassis",
        "only one end",
        "",
    ),
    (
        "spring_axle: 4, 462, 432 mm",
        "spring_axle: 4, -462, 432 mm",
        f"{FRONT}.hardpoints.spring_axle",
        "left of the middle",
        "4, 462, 432 mm",
    ),
    (
        "wheel_centre: -2700, 750",
        "wheel_centre: 2700, 750",
        "vehicle.axles.rear.hardpoints.wheel_centre",
        "x points forward",
        "",
    ),
    (
        "wheel_centre: 0, 750, 361",
        "wheel_centre: 0, 750, 761",
        f"{FRONT}.hardpoints.wheel_centre",
        "above the ground",
        "",
    ),
    (
        "        arm_axle_rear: {radial",
        "        arm_axle_reer: {radial",
        f"{FRONT}.bushes.arm_axle_reer",
        "did you mean",
        "arm_axle_rear",
    ),
    (
        "        arm_axle_rear: {radial",
        "        arm_axle_reer: {radial",
        f"{FRONT}.bushes.arm_axle_rear",
        "bush missing",
        "",
    ),
    (
        "lower_link: {stiffness: 5.0 kN/mm}",
        "lower_link: {radial: 5.0 kN/mm}",
        "vehicle.axles.rear.bushes.lower_link",
        "one stiffness",
        "",
    ),
    (
        "kind: joint, joint: arm_chassis",
        "kind: joint, joint: arm_chasis",
        f"{FRONT}.limiters.2.joint",
        "no such bushed joint",
        "arm_chassis",
    ),
    ("rod: drag_link, limit", "rod: drag_rod, limit", f"{FRONT}.limiters.3.rod", "no such rod", ""),
    ("name: breather hose", "name: brake hose", f"{FRONT}.limiters.1.name", "second limiter", ""),
    # references
    (
        "front: front_standard, rear",
        "front: front_standart, rear",
        "fitouts.bare.springs.front",
        "'front_standard'?",
        "front_standard",
    ),
    ("people: {driver: 75 kg}", "people: {drivr: 75 kg}", "fitouts.bare.people.drivr", "'driver'?", "driver"),
    ("    winch: {front: 35 mm", "    winsh: {front: 35 mm", "targets.lift.winsh", "'winch'?", "winch"),
    ("parent: B1", "parent: B9", "builds.B2.parent", "no build of this name", ""),
    ("parent: B1", "parent: B3", "builds.B2.parent", "in a circle", "stock"),
    ("front: front_b, rear", "front: front_x, rear", "builds.B2.dampers.front", "no damper in the kit", ""),
    ("front: front_b, rear", "front: rear_b, rear", "builds.B2.dampers.front", "made for the rear axle", "front_a"),
    (
        "    front: []\n",
        "    front: [{name: brake hoze, length: 470 mm}]\n",
        "kit.lines.front.0.name",
        "'brake hose'?",
        "brake hose",
    ),
    (
        "    front: {}\n",
        '    front: {arm_chassis: "-885, 412, 400 mm"}\n',
        "kit.changes.front.arm_chassis",
        "say which end",
        "",
    ),
    (
        "    front: {}\n",
        '    front: {arm_chassis@axle: "-885, 412, 400 mm"}\n',
        "kit.changes.front.arm_chassis@axle",
        "no end on 'axle'",
        "",
    ),
    (
        "    front: {}\n",
        '    front: {wheel_centre: "0, 760, 361 mm"}\n',
        "kit.changes.front.wheel_centre",
        "measured",
        "",
    ),
    (
        "  changes: ",
        "  rod_lengths: {front: {trak_rod: refit}, rear: {}}\n  changes: ",
        "kit.rod_lengths.front.trak_rod",
        "'track_rod'?",
        "track_rod",
    ),
    ("name: valley road", "name: village humps", "road_loop.sections.1.name", "second section", ""),
    ("name: second battery", "name: steel bumper", "fitouts.winch.items.2.name", "second item", ""),
    ("dyno: dyno/stock-front.csv", "note: none", f"{FRONT}.damper.dyno", "either a dyno file or a curve", ""),
    (
        "drives: []",
        "drives: [{date: 2026-10-01, driver: A, build: B1, against: B1, fitout: bare}]",
        "drives.0.against",
        "not compared with itself",
        "stock",
    ),
    (
        "drives: []",
        "drives: [{date: 2026-10-01, driver: A, build: B1, fitout: bear}]",
        "drives.0.fitout",
        "'bare'?",
        "bare",
    ),
    # shape
    (
        "limiters:",
        "limiters: 3\n      limiter:",
        f"{FRONT}.limiters",
        "wanted a list",
        "",
    ),
    ("vehicle:\n", "vehicle: 3\nvehicles:\n", "vehicle", "wanted fields", ""),
    ("format: 1\n", "\n", "format", "missing", "1"),
    ("format: 1\n", "format: one\n", "format", "", "1"),
    (
        "  author: workshop",
        "  author: workshop\n  author: me",
        "programme.author",
        "stands twice, first on line 11",
        "",
    ),
]


@pytest.mark.parametrize(
    ("old", "new", "path", "said", "example"), FAULTS, ids=[f"{f[2]}-{i}" for i, f in enumerate(FAULTS)]
)
def test_one_fault_is_found_at_its_field(spoil: Spoil, old: str, new: str, path: str, said: str, example: str) -> None:
    found = [p for p in spoil(old, new) if p.path == path]
    assert len(found) == 1, found
    assert said in found[0].wrong
    assert example in found[0].example
    assert found[0].example, "every fault shows what would be right"
    assert found[0].found
    assert found[0].file == "tarn.yaml"


def test_the_line_is_the_field_s(spoil: Spoil, tarn_text: str) -> None:
    wanted = tarn_text.split("rate: 21.5 N/mm")[0].count("\n") + 1
    (problem,) = spoil("rate: 21.5 N/mm +- 0.6 N/mm", "rate: 21.5 N/m")
    assert problem.line == wanted
    assert str(problem).startswith(f"tarn.yaml:{wanted}: {FRONT}.spring.rate: 21.5 N/m lies outside")


def test_the_whole_side_mirrored_is_one_fault(tarn_text: str) -> None:
    head, rest = tarn_text.split("hardpoints:\n", 1)
    block, tail = rest.split("      bushes:", 1)
    lines = []
    for line in block.splitlines():
        name, _, point = line.partition(": ")
        x, y, z = point.split(",")
        central = name.strip().startswith(("track_rod", "drag_link"))
        lines.append(line if central else f"{name}: {x}, {-float(y):g},{z}")
    with pytest.raises(ProgrammeError) as caught:
        loads(head + "hardpoints:\n" + "\n".join(lines) + "\n      bushes:" + tail)
    problems = [p for p in caught.value.problems if "mirrored" in p.wrong]
    assert [p.path for p in problems] == [f"{FRONT}.hardpoints"]


def test_every_fault_is_reported_at_once_in_the_order_of_the_file(tarn_text: str) -> None:
    text = tarn_text
    for old, new in (
        ("wheelbase: 2700 mm +- 3 mm", "wheelbase: 2700"),
        ("layout: arms_track_rod", "layout: arms_track_rod\n      colour: red"),
        ("spring_axle: 4, 462, 432 mm", "spring_axle: 4, 462, 832 mm"),
        ("parent: B1", "parent: B9"),
        ("front: front_standard, rear", "front: nothing, rear"),
        ("class: E", "class: K"),
    ):
        text = text.replace(old, new, 1)
    with pytest.raises(ProgrammeError) as caught:
        loads(text, "tarn.yaml")
    problems = caught.value.problems
    assert [p.path for p in problems] == [
        "vehicle.wheelbase",
        f"{FRONT}.colour",
        f"{FRONT}.hardpoints.spring_axle",
        "fitouts.bare.springs.front",
        "builds.B2.parent",
        "road_loop.sections.5.surface.class",
    ]
    assert str(caught.value).startswith("6 problems\ntarn.yaml:15: vehicle.wheelbase: 2700 has no unit")


def test_a_newer_format_is_refused_naming_both_versions(spoil: Spoil) -> None:
    (problem,) = spoil("format: 1\n", "format: 7\nnew_thing: 3\n")
    assert problem.path == "format"
    assert "format 7" in problem.wrong
    assert "up to 1" in problem.wrong


def test_a_curve_point_needs_no_quotes(tarn_text: str) -> None:
    loaded = loads(tarn_text.replace('"10 mm: 260 N"', "10 mm: 260 N", 1))
    assert loaded.programme.vehicle.axles.front.stop.curve[1].force == 260.0


def test_a_point_may_be_a_mapping(tarn_text: str) -> None:
    new = "spring_axle: {x: 4 mm, y: 46.2 cm, z: 432 mm +- 1 mm}"
    point = loads(tarn_text.replace("spring_axle: 4, 462, 432 mm", new, 1)).programme.vehicle.axles.front.hardpoints
    assert point["spring_axle"].si == (0.004, 0.462, 0.432)
    assert point["spring_axle"].spread == 0.001


def test_a_single_upper_link_may_stand_on_either_side(tarn_text: str) -> None:
    text = tarn_text.replace("layout: links_track_rod", "layout: links_track_rod\n      central: [upper_link]")
    text = text.replace("upper_link_axle: -2706, 318", "upper_link_axle: -2706, -40")
    text = text.replace("upper_link_chassis: -2262, 386", "upper_link_chassis: -2262, -40")
    assert loads(text).programme.vehicle.axles.rear.central == ("upper_link",)


def test_kit_changes_and_rod_lengths_are_read(tarn_text: str) -> None:
    text = tarn_text.replace(
        "    front: {}\n",
        '    front: {arm_chassis@chassis: "-885, 412, 400 mm", track_rod_chassis: "118, 424, 400 mm"}\n',
    ).replace(
        "  stop_spacers:", "  rod_lengths: {front: {track_rod: refit, drag_link: 560 mm}, rear: {}}\n  stop_spacers:"
    )
    kit = loads(text).programme.kit
    assert kit.changes.front["arm_chassis@chassis"].z == 0.4
    assert kit.rod_lengths.front["track_rod"] == "refit"
    assert getattr(kit.rod_lengths.front["drag_link"], "si", None) == 0.56
