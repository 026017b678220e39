"""Ramp angles against their definition, followed by force: a straight edge turned about the wheel until it touches.

Definition after SAE J1100 and ISO 612:1978, both from memory and so unsure. The tangent here is found by a root finder
on the distance between a line and a circle (SciPy), which the closed form does not use; tolerance 1e-9 rad.
"""

from __future__ import annotations

import math

import pytest
from scipy.optimize import brentq

from tussock.errors import DomainError
from tussock.mechanics.ramp_angles import breakover_angle, tangent_angle


@pytest.mark.parametrize(
    ("point", "wheel", "radius"),
    [((0.77, 0.52), 0.0, 0.361), ((-3.53, 0.545), -2.7, 0.370), ((-1.5, 0.31), 0.0, 0.361), ((0.9, 0.05), 0.0, 0.4)],
)
def test_a_line_through_the_point_touches_the_wheel(point: tuple[float, float], wheel: float, radius: float) -> None:
    def gap(angle: float) -> float:
        """Distance of the wheel's centre from the line through the point, less the radius."""
        across, up = abs(point[0] - wheel), point[1] - radius
        return math.cos(angle) * (-up) + math.sin(angle) * across - radius

    found = brentq(gap, -0.5, 1.4, xtol=1e-13)
    assert tangent_angle(point, wheel=wheel, radius=radius) == pytest.approx(found, abs=1e-9)


def test_a_point_on_the_ground_has_no_slope_and_one_in_the_wheel_none_at_all() -> None:
    assert tangent_angle((0.8, 0.0), wheel=0.0, radius=0.38) == pytest.approx(0.0, abs=1e-12)
    with pytest.raises(DomainError, match="within the wheel"):
        tangent_angle((0.1, 0.3), wheel=0.0, radius=0.38)


def test_breakover_of_a_vehicle_on_points_is_its_triangle() -> None:
    """With wheels of no size the ramp is the triangle over both contacts (plane geometry)."""
    height, base, place = 0.3, 2.7, 1.2
    expected = math.atan(height / place) + math.atan(height / (base - place))
    points = ((-place, height), (-place, height + 0.1))
    found = breakover_angle(points, front=(0.0, 1e-9), rear=(-base, 1e-9))
    assert found == pytest.approx(expected, abs=1e-7)
