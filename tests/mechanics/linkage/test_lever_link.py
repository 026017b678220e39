"""Lever and link of sensors and valves: closed forms, a general root finder, invariances, faults in words."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq
from scipy.spatial.transform import Rotation

from tussock.errors import DomainError, SolverError
from tussock.mechanics.arrays import Floats
from tussock.mechanics.linkage.lever_link import LeverLink

#: An invented rear level sensor: lever 90 mm forward of its pivot, link straight down.
PIVOT, LEVER, LINK = (np.array(p) for p in ([-2.5, 0.4, 0.60], [-2.41, 0.4, 0.60], [-2.41, 0.4, 0.42]))


def at(*place: float) -> Floats:
    return np.array(place)


def sensor(**changes: object) -> LeverLink:
    return LeverLink(**{"pivot": PIVOT, "lever": LEVER, "link": LINK, "name": "rear level", **changes})  # type: ignore[arg-type]


def up(*heave: float) -> Floats:
    return LINK + np.outer(heave, [0.0, 0.0, 1.0])


def test_a_parallel_linkage_turns_by_the_arc_sine() -> None:
    """A link that moves along with the lever's end: the angle is asin(heave / lever) - a parallelogram, exact."""
    lever = sensor()
    heave = np.array([-0.05, -0.02, 0.0, 0.03, 0.06])
    angle = np.arcsin(heave / 0.09)
    ends = LINK + np.column_stack([0.09 * (np.cos(angle) - 1.0), np.zeros(5), heave])
    np.testing.assert_allclose(lever.angles(ends), angle, atol=1e-13)


@settings(max_examples=60, deadline=None)
@given(heave=st.floats(-0.06, 0.06), aside=st.floats(-0.03, 0.03), tilt=st.floats(-30.0, 30.0))
def test_angle_equals_a_general_root_finder(heave: float, aside: float, tilt: float) -> None:
    axis = Rotation.from_euler("z", tilt, degrees=True).apply([0.0, 1.0, 0.0])
    lever = sensor(axis=tuple(axis))
    end = LINK + np.array([0.01, aside, heave])

    def miss(angle: float) -> float:
        return float(np.linalg.norm(lever.lever_end(angle) - end)) - 0.18

    assert float(lever.angles(end[None, :])[0]) == pytest.approx(float(brentq(miss, -1.2, 1.2, xtol=1e-14)), abs=1e-10)


@settings(max_examples=40, deadline=None)
@given(heave=st.floats(-0.05, 0.05), mirror=st.booleans(), scale=st.floats(0.5, 2.0))
def test_mirror_and_scale_change_no_angle(heave: float, mirror: bool, scale: float) -> None:
    factor = np.array([1.0, -1.0 if mirror else 1.0, 1.0]) * scale
    other = sensor(pivot=PIVOT * factor, lever=LEVER * factor, link=LINK * factor)
    end = up(heave)
    np.testing.assert_allclose(other.angles(end * factor), sensor().angles(end), atol=1e-12)


def test_lever_that_points_rearward_still_rises_positive() -> None:
    rearward = sensor(lever=PIVOT + at(-0.09, 0.0, 0.0), link=PIVOT + at(-0.09, 0.0, -0.18))
    assert float(rearward.angles(rearward.link[None, :] + at(0.0, 0.0, 0.02))[0]) > 0.0


def test_longer_link_and_bracket_bring_the_angle_back() -> None:
    lever, lifted = sensor(), up(-0.04)[0]
    # law of cosines in the triangle pivot, lever end, link end: sides 90, 180 and hypot(90, 220) mm
    side = math.hypot(0.09, 0.22)
    by_cosines = math.acos((0.09**2 + side**2 - 0.18**2) / (2.0 * 0.09 * side)) - math.atan2(0.22, 0.09)
    assert float(lever.angles(lifted[None, :])[0]) == pytest.approx(by_cosines, abs=1e-12)
    longer = lever.with_link(lever.link_for(lifted))
    assert float(longer.angles(lifted[None, :])[0]) == pytest.approx(0.0, abs=1e-12)
    assert longer.length == pytest.approx(0.22, abs=1e-12)
    rise = lever.rise_for(lifted)
    assert rise == pytest.approx(0.04, abs=1e-12)
    assert float(lever.angles(lifted[None, :] + at(0.0, 0.0, rise))[0]) == pytest.approx(0.0, abs=1e-12)


def test_lever_and_link_hold_two_settings() -> None:
    """Stiffer springs sink less: a shorter lever turns as far as the stock one did over the stock sinking."""
    lever = sensor()
    stock = lever.angles(up(0.0, 0.05))
    first, second = up(-0.04, -0.01)
    length, link = lever.lever_and_link(first, second, first_angle=float(stock[0]), second_angle=float(stock[1]))
    assert length < 0.09
    mended = lever.with_lever(length, link=link)
    np.testing.assert_allclose(mended.angles(np.array([first, second])), stock, atol=1e-12)
    assert mended.lever_length == pytest.approx(length)
    with pytest.raises(SolverError, match="no length of the lever"):
        lever.lever_and_link(first, second, first_angle=0.0, second_angle=-0.5)


def test_where_it_locks_is_said() -> None:
    with pytest.raises(SolverError, match=r"one line; 1 of 3 places cannot be reached, the furthest by 43.2 mm"):
        sensor().angles(up(0.0, -0.05, -0.12))  # hypot(90, 300) - 90 - 180 mm
    assert sensor().reach(up(0.0, -0.12))[1] > 1.0
    with pytest.raises(SolverError, match="too short"):
        sensor().rise_for(LINK + at(0.2, 0.0, 0.0))


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"axis": (0.0, 0.0, 0.0)}, "no direction"),
        ({"lever": PIVOT + at(0.0, 0.05, 0.0)}, "from its axis"),
        ({"link": LEVER}, "0.00 mm long"),
        ({"link": LEVER + at(0.1, 0.0, 0.0)}, "in one line"),
    ],
)
def test_what_cannot_turn_is_refused(changes: dict[str, object], said: str) -> None:
    with pytest.raises(DomainError, match=said):
        sensor(**changes)
