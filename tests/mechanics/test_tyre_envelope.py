"""Room of a tyre against circle, torus and turned wheel in closed form; turning, mirror and order as properties."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tussock.errors import InputError
from tussock.mechanics.tyre_envelope import steered, turned, tyre_clearance

RADIUS, WIDTH, SHOULDER = 0.38, 0.235, 0.045
SIZE = {"radius": RADIUS, "width": WIDTH, "shoulder": SHOULDER}
CENTRE, AXIS = np.array([0.1, 0.75, 0.36]), np.array([0.0, 1.0, 0.0])
PLACES = st.tuples(st.floats(-1.0, 1.0), st.floats(-0.6, 0.6), st.floats(-1.0, 1.0))


@given(st.floats(-math.pi, math.pi), st.floats(0.0, 1.0), st.floats(-0.072, 0.072))
def test_over_the_tread_the_gap_is_that_of_a_circle(angle: float, gap: float, along: float) -> None:
    out = RADIUS + gap
    point = CENTRE + np.array([out * math.cos(angle), along, out * math.sin(angle)])
    assert float(tyre_clearance(point, CENTRE, AXIS, **SIZE)) == pytest.approx(gap, abs=1e-9)


@given(st.floats(-math.pi, math.pi), st.floats(0.0, 0.3), st.floats(0.0, 1.0))
def test_beside_the_sidewall_the_gap_is_the_way_across(angle: float, share: float, gap: float) -> None:
    out = share / 0.3 * (RADIUS - SHOULDER)
    point = CENTRE + np.array([out * math.cos(angle), 0.5 * WIDTH + gap, out * math.sin(angle)])
    assert float(tyre_clearance(point, CENTRE, AXIS, **SIZE)) == pytest.approx(gap, abs=1e-9)


@given(PLACES)
def test_with_a_shoulder_of_half_the_width_it_is_a_torus_from_outside(place: tuple[float, float, float]) -> None:
    """Distance to a torus: from the circle of its section's middle, less the section's radius."""
    half = 0.5 * WIDTH
    x, y, z = place
    out = math.hypot(x, z)
    if out < RADIUS - half:
        return
    torus = math.hypot(out - (RADIUS - half), y) - half
    got = float(tyre_clearance(np.array(place), np.zeros(3), AXIS, radius=RADIUS, width=WIDTH, shoulder=half))
    assert got == pytest.approx(torus, abs=1e-9)


@given(PLACES, st.floats(-3.0, 3.0))
def test_turning_everything_alike_changes_nothing(place: tuple[float, float, float], angle: float) -> None:
    about = np.array([2.0, -1.0, 2.0]) / 3.0
    before = tyre_clearance(np.array(place), CENTRE, AXIS, **SIZE)
    parts = [turned(v, about, angle) for v in (np.array(place), CENTRE, AXIS)]
    assert float(tyre_clearance(*parts, **SIZE)) == pytest.approx(float(before), abs=1e-9)


@given(PLACES, st.floats(0.0, 0.05))
def test_a_larger_tyre_never_has_more_room(place: tuple[float, float, float], more: float) -> None:
    point = np.array(place)
    now = float(tyre_clearance(point, CENTRE, AXIS, **SIZE))
    for grown in ({**SIZE, "radius": RADIUS + more}, {**SIZE, "width": WIDTH + more}):
        assert float(tyre_clearance(point, CENTRE, AXIS, **grown)) <= now + 1e-12


@given(PLACES, st.floats(-0.7, 0.7))
def test_a_mirrored_wheel_steered_the_other_way_has_the_same_room(
    place: tuple[float, float, float], lock: float
) -> None:
    mirror = np.array([1.0, -1.0, 1.0])
    lower, upper, point = np.array([0.0, 0.65, 0.26]), np.array([-0.01, 0.61, 0.46]), np.array(place) + CENTRE
    left = steered(CENTRE, AXIS, lower, upper, lock)
    right = steered(CENTRE * mirror, AXIS, lower * mirror, upper * mirror, -lock)
    one = float(tyre_clearance(point, *left, **SIZE))
    assert float(tyre_clearance(point * mirror, *right, **SIZE)) == pytest.approx(one, abs=1e-9)


@pytest.mark.parametrize("lock", [-0.5, 0.2, 0.6])
def test_about_an_upright_pin_a_wheel_turns_as_drawn_in_plan(lock: float) -> None:
    """In plan the wheel is a rectangle turned about the pin, and the gap to a point at axle height is drawn there."""
    pin = np.array([0.1, 0.63, 0.0])
    point = np.array([-0.42, 0.50, 0.36])
    centre, axis = steered(CENTRE, AXIS, pin, pin + np.array([0.0, 0.0, 0.3]), lock)
    # in the wheel's own frame: turn the point back about the pin
    x, y = point[0] - pin[0], point[1] - pin[1]
    along = -math.sin(lock) * x + math.cos(lock) * y - (CENTRE[1] - pin[1])
    back = math.cos(lock) * x + math.sin(lock) * y
    side, rim = abs(along) - (0.5 * WIDTH - SHOULDER), abs(back) - (RADIUS - SHOULDER)
    drawn = math.hypot(max(side, 0.0), max(rim, 0.0)) + min(max(side, rim), 0.0) - SHOULDER
    assert float(tyre_clearance(point, centre, axis, **SIZE)) == pytest.approx(drawn, abs=1e-12)


@pytest.mark.parametrize("wrong", [{"radius": 0.0}, {"width": -0.2}, {"shoulder": 0.2}, {"shoulder": -0.01}])
def test_tyres_that_cannot_be_are_refused(wrong: dict[str, float]) -> None:
    with pytest.raises(InputError):
        tyre_clearance(np.zeros(3), CENTRE, AXIS, **{**SIZE, **wrong})
