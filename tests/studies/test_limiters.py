"""Every limiter against closed forms on an axle that moves straight, and the order in which limiters stop it."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.interpolate import PchipInterpolator
from straight_axle import HEAVE, HEIGHT, X, pitching, straight

from tussock.mechanics.arrays import Floats
from tussock.mechanics.springs import BumpStop, CoilSpring
from tussock.studies import limiters, model, reach
from tussock.studies.job import Job
from tussock.studies.limiters import AxlePath, Stop, stops
from tussock.studies.parts import Spring
from tussock.studies.spring_laws import SpringLaw

NEAR = {"rtol": 0.0, "atol": 1e-12}


def at(x: float, y: float, z: float) -> Floats:
    return np.array([x, y, z])


def test_points_of_a_straight_axle_go_straight() -> None:
    path = straight(side_shift=0.3)
    moved = path.place(at(0.2, 0.5, 0.3))
    np.testing.assert_allclose(
        moved, np.stack([0.2 + 0 * HEAVE, 0.5 + 0.3 * HEAVE, 0.3 + HEAVE], axis=1), rtol=0.0, atol=1e-15
    )


def test_points_of_a_rolled_axle_turn_about_its_centre() -> None:
    roll = 0.1
    moved = straight(roll).place(at(X, 0.75, HEIGHT))
    np.testing.assert_allclose(moved[:, 1], 0.75 * np.cos(roll), **NEAR)
    np.testing.assert_allclose(moved[:, 2], HEIGHT + HEAVE + 0.75 * np.sin(roll), **NEAR)


def test_a_hose_in_the_middle_is_one_straight_line() -> None:
    margin = limiters.line_margin(straight(), chassis=(X, 0.1, 0.7), axle=(X + 0.1, 0.1, 0.45), usable=0.4)
    np.testing.assert_allclose(margin, 0.4 - np.hypot(0.1, 0.25 - HEAVE), **NEAR)


def test_a_hose_outside_counts_on_the_side_that_hangs() -> None:
    roll = 0.08
    margin = limiters.line_margin(straight(roll), chassis=(X, 0.5, 0.7), axle=(X, 0.5, HEIGHT), usable=0.4)
    right = np.hypot(0.5 - 0.5 * np.cos(roll), 0.3 - HEAVE + 0.5 * np.sin(roll))
    left = np.hypot(0.5 - 0.5 * np.cos(roll), 0.3 - HEAVE - 0.5 * np.sin(roll))
    np.testing.assert_allclose(margin, 0.4 - np.maximum(left, right), **NEAR)


def test_a_rod_end_turns_by_the_rods_own_angle_on_a_straight_axle() -> None:
    fixed, moving = at(X + 0.6, 0.0, HEIGHT), at(X, 0.0, HEIGHT)
    margin = limiters.rod_end_margin(straight(), ends=((fixed, moving),), limit=0.3)
    np.testing.assert_allclose(margin, 0.3 - np.abs(np.arctan(HEAVE / 0.6)), **NEAR)


def test_a_rod_end_on_the_axle_turns_by_more_where_the_axle_pitches() -> None:
    """Lowered, the rod leans one way and the axle pitches the other: the axle's end sees the sum of both angles."""
    fixed, moving = at(X + 0.6, 0.0, HEIGHT), at(X, 0.0, HEIGHT)
    margin = limiters.rod_end_margin(pitching(-0.5), ends=((fixed, moving),), limit=0.5)
    # nose up by positive heave: pitch of -0.5 rad/m turns the forward direction up, while the rod's far end drops
    np.testing.assert_allclose(margin, 0.5 - (np.arctan(np.abs(HEAVE) / 0.6) + 0.5 * np.abs(HEAVE)), **NEAR)


def test_universal_joint_is_the_angle_between_the_two_shafts() -> None:
    """In side view the angle is that of the shaft less that of the pinion; 3 degrees nose up, shaft rising forward."""
    nose = np.deg2rad(3.0)
    output, flange = at(X + 0.9, 0.1, 0.52), at(X, 0.1, HEIGHT)
    angle = limiters.universal_joint_angle(straight(), output=output, flange=flange, pinion_axis=float(nose))
    np.testing.assert_allclose(angle, np.abs(np.arctan2(0.12 - HEAVE, 0.9) - nose), rtol=0.0, atol=1e-7)


def test_universal_joint_compounds_side_and_plan_angle() -> None:
    """cos of the joint's angle is that of side view times that of plan view for a shaft that leaves in both."""
    output, flange = at(X + 0.8, 0.3, HEIGHT), at(X, 0.1, HEIGHT)
    angle = limiters.universal_joint_angle(straight(), output=output, flange=flange, pinion_axis=0.0)
    np.testing.assert_allclose(np.cos(angle), 0.8 / np.sqrt(0.8**2 + 0.2**2 + HEAVE**2), rtol=0.0, atol=1e-12)


@given(
    st.floats(-0.3, 0.3),
    st.floats(0.3, 1.2),
    st.floats(-0.3, 0.3),
    st.floats(-0.15, 0.15),
    st.sampled_from([1.0, -1.0]),
)
def test_universal_joint_against_vectors(side: float, ahead: float, up: float, nose: float, forward: float) -> None:
    """The same angle by cross product and atan2, for a pinion that points forward or rearward."""
    output, flange = at(X + forward * ahead, side, HEIGHT + up), at(X, 0.0, HEIGHT)
    got = limiters.universal_joint_angle(straight(), output=output, flange=flange, pinion_axis=nose)
    pinion = np.array([forward * np.cos(nose), 0.0, np.sin(nose)])
    for k in range(0, HEAVE.size, 20):
        shaft = output - (flange + at(0.0, 0.0, HEAVE[k]))
        wanted = np.arctan2(np.linalg.norm(np.cross(shaft, pinion)), shaft @ pinion)
        assert got[k] == pytest.approx(wanted, abs=1e-7)


def test_clearance_of_a_rod_over_a_point_in_its_middle() -> None:
    """Half way along, the rod's height is the mean of its ends: it rises by half the heave and leans by it."""
    fixed, moving = at(X, 0.5, HEIGHT), at(X, -0.5, HEIGHT)
    margin = limiters.rod_clearance_margin(
        straight(), fixed=fixed, moving=moving, radius=0.016, points=(at(X, 0.0, 0.55),), least=0.008
    )
    lean = np.arctan(HEAVE / 1.0)
    np.testing.assert_allclose(margin, (0.15 - 0.5 * HEAVE) * np.cos(lean) - 0.024, rtol=0.0, atol=1e-9)


def test_clearance_counts_between_the_measured_points() -> None:
    """Points are joined by straight lines: a rod that passes between two of them meets the line, not the points."""
    fixed, moving = at(X - 0.5, 0.0, HEIGHT), at(X + 0.5, 0.0, HEIGHT)
    ends = (at(X, -0.4, 0.5), at(X, 0.4, 0.5))
    margin = limiters.rod_clearance_margin(straight(), fixed=fixed, moving=moving, radius=0.016, points=ends, least=0.0)
    level = int(np.argmin(np.abs(HEAVE)))
    assert margin[level] == pytest.approx(0.1 - 0.016, abs=1e-12)


def test_tyre_is_a_circle_about_the_wheel_centre() -> None:
    margin = limiters.tyre_margin(
        straight(), point=(X + 0.05, 0.76, 0.9), wheel=(X, 0.75, HEIGHT), radius=0.38, least=0.012
    )
    np.testing.assert_allclose(margin, np.hypot(0.05, 0.5 - HEAVE) - 0.392, **NEAR)


@pytest.mark.parametrize("roll", [0.0, 0.06, -0.06])
def test_spring_and_damper_count_on_the_worse_side(roll: float) -> None:
    path = straight(roll)
    lean = abs(0.5 * np.tan(roll))
    coil = CoilSpring(wire=0.0145, mean_diameter=0.127, active_coils=8.8, free_length=0.42)
    spring = limiters.spring_margins(path, shortest=coil.least_length, free_length=0.42, packer=0.01)
    np.testing.assert_allclose(spring["spring loose"], 0.42 - (0.3 - HEAVE + lean - 0.01), **NEAR)
    np.testing.assert_allclose(spring["coil bind"], 0.3 - HEAVE - lean - 0.01 - coil.least_length, **NEAR)
    damper = limiters.damper_margins(path, open_length=0.6, closed_length=0.36)
    np.testing.assert_allclose(damper["damper open"], 0.6 - (0.5 - HEAVE + lean), **NEAR)
    np.testing.assert_allclose(damper["damper closed"], 0.5 - HEAVE - lean - 0.36, **NEAR)


def test_a_spring_without_dimensions_has_no_bind() -> None:
    assert list(limiters.spring_margins(straight(), shortest=None, free_length=0.42, packer=0.0)) == ["spring loose"]


def test_stop_at_three_times_the_load() -> None:
    """At the compression where the measured curve has what is left of three loads, the margin is zero."""
    stop = BumpStop(
        compression=np.array([0.0, 0.01, 0.02, 0.03]), force=np.array([0.0, 300.0, 900.0, 2400.0]), free_height=0.06
    )
    # stop height 60 mm over a gap of 140 mm: pressed by 20 mm, 900 N, at a heave of 100 mm
    spring_there = 20e3 * (0.42 - (0.3 - 0.1))
    margin = limiters.stop_margin(
        straight(),
        stop,
        spring=lambda length: 20e3 * np.maximum(0.42 - length, 0.0),
        static_load=(spring_there + 900.0) / 3.0,
        load_factor=3.0,
    )
    assert np.interp(0.1, HEAVE, margin) == pytest.approx(0.0, abs=1e-6)
    found = stops({"bump stop, 3 g": margin}, HEAVE, start=0.0)
    assert [s.where for s in found] == ["bump"]
    assert found[0].heave == pytest.approx(0.1, abs=1e-5)


def test_a_packer_adds_its_height_times_the_rate() -> None:
    stop = BumpStop(compression=np.array([0.0, 0.01, 0.02]), force=np.array([0.0, 300.0, 900.0]), free_height=0.06)
    law = SpringLaw(kind="coil", rate=20e3, rate_spread=0.0, free_length=0.42, free_length_spread=0.0, words="20 N/mm")

    def margin(packer: float) -> np.ndarray:
        spring = Spring(name="s", title="s", law=law, packer=packer, packers=())
        return limiters.stop_margin(straight(), stop, spring=spring.force, static_load=2500.0, load_factor=1.5)

    plain, packed = margin(0.0), margin(0.01)
    loaded = HEAVE > -0.11  # below, the spring hangs loose
    np.testing.assert_allclose((plain - packed)[loaded], 20e3 * 0.01, rtol=1e-9)
    np.testing.assert_allclose((plain - packed)[HEAVE < -0.131], 0.0, atol=1e-9)


# ---------------------------------------------------------------------------------------------- order of stops


@given(
    st.lists(st.floats(-0.19, 0.19), min_size=1, max_size=6, unique=True),
    st.floats(-0.1, 0.1),
)
def test_stops_are_found_where_the_margins_run_out_nearest_first(places: list[float], start: float) -> None:
    """A straight margin that is free at the start: where it is used up is known."""
    margins = {
        f"limiter {k}": (HEAVE - p if p < start else p - HEAVE) for k, p in enumerate(places) if abs(p - start) > 1e-6
    }
    found = stops(margins, HEAVE, start=start)
    assert len(found) == len(margins)
    reach = [abs(s.heave - start) for s in found]
    assert reach == sorted(reach)
    for s in found:
        place = places[int(s.name.split()[1])]
        assert s.heave == pytest.approx(place, abs=1e-9)
        assert s.where == ("droop" if place < start else "bump")


@settings(max_examples=60, deadline=None)
@given(
    values=st.lists(st.integers(-10, 9), min_size=9, max_size=9),
    share=st.floats(0.01, 0.99),
)
def test_stops_are_the_roots_of_the_curve_nearest_the_start(values: list[int], share: float) -> None:
    """Against every root that SciPy finds of the same monotone curve (Fritsch and Carlson)."""
    heave, margin = np.linspace(-0.2, 0.16, 9), np.array(values) + 0.5
    start = float(heave[0] + share * (heave[-1] - heave[0]))
    curve = PchipInterpolator(heave, margin)
    found = {s.where: s.heave for s in stops({"it": margin}, heave, start=start)}
    if curve(start) <= 0.0:
        assert list(found.values()) == [start]
        return
    roots = curve.roots(extrapolate=False)
    below, above = roots[roots < start], roots[roots > start]
    wanted = {w: r for w, at, pick in (("droop", below, max), ("bump", above, min)) if at.size for r in [pick(at)]}
    assert found == pytest.approx(wanted, abs=1e-9)


def test_a_limiter_may_stop_both_ways() -> None:
    found = stops({"rod end": 0.1 - np.abs(HEAVE - 0.02)}, HEAVE, start=0.0)
    assert [(s.where, round(s.heave, 6)) for s in found] == [("droop", -0.08), ("bump", 0.12)]


def test_of_several_ends_the_nearest_counts() -> None:
    margin = (HEAVE + 0.15) * (HEAVE + 0.05) * 10.0  # used up between -150 and -50 mm
    assert [s.heave for s in stops({"odd": margin}, HEAVE, start=0.0)] == [pytest.approx(-0.05, abs=1e-4)]


@pytest.mark.parametrize(("slope", "where"), [(1.0, "droop"), (-1.0, "bump")])
def test_used_up_at_the_start_is_said_at_the_start(slope: float, where: str) -> None:
    found = stops({"hose": slope * HEAVE - 0.01, "far": HEAVE + 0.19}, HEAVE, start=0.0)
    assert found[0] == Stop(name="hose", where=where, heave=0.0)


def test_what_never_ends_the_travel_is_left_out() -> None:
    assert stops({"long strap": 1.0 + 0.0 * HEAVE}, HEAVE, start=0.0) == ()


@given(st.floats(-0.12, 0.12), st.floats(0.3, 0.6), st.floats(0.3, 0.7))
def test_a_mirrored_axle_has_the_same_stops(roll: float, chassis_y: float, axle_y: float) -> None:
    """Left wheel up or right wheel up: with parts on both sides every limiter ends the travel at the same heave."""
    coil = CoilSpring(wire=0.0145, mean_diameter=0.127, active_coils=8.8, free_length=0.42)

    def every(path: limiters.AxlePath) -> dict[str, Floats]:
        fixed, moving = at(X + 0.6, chassis_y, 0.45), at(X, axle_y, HEIGHT)
        return {
            **limiters.spring_margins(path, shortest=coil.least_length, free_length=0.42, packer=0.0),
            **limiters.damper_margins(path, open_length=0.6, closed_length=0.36),
            "hose": limiters.line_margin(path, chassis=(X, chassis_y, 0.75), axle=(X, axle_y, 0.45), usable=0.45),
            "tyre": limiters.tyre_margin(path, point=(X, 0.76, 0.9), wheel=(X, 0.75, HEIGHT), radius=0.38, least=0.0),
            "rod": limiters.rod_end_margin(
                path, ends=((fixed, moving), (limiters.mirrored(fixed), limiters.mirrored(moving))), limit=0.2
            ),
        }

    left, right = (stops(every(straight(r)), HEAVE, start=0.0) for r in (roll, -roll))
    assert [(s.name, s.where) for s in left] == [(s.name, s.where) for s in right]
    assert [s.heave for s in left] == pytest.approx([s.heave for s in right], abs=1e-9)


def test_over_the_plane_the_margins_are_those_of_each_roll(job: Job) -> None:
    """One evaluation over heave and roll gives, column by column, what the path along one roll gives."""
    setup = job.setup()
    axle = model.travel_map(job, "front", setup, roll=0.09)
    plane = reach.margins(job, setup, "front", AxlePath(axle))
    for column in (0, 1, 2):
        along = reach.margins(job, setup, "front", AxlePath(axle, column))
        assert along.keys() == plane.keys()
        for name, margin in along.items():
            np.testing.assert_allclose(plane[name][:, column], margin, rtol=1e-12, atol=1e-12, err_msg=name)
