"""Air bags against the gas laws.

Sources
-------
1. Gas law p V^k = constant and Boyle's law (k = 1), any thermodynamics text.
2. Rate of an air spring, k p A^2 / V less (p - p_atm) dA/dh: handbook formula, from memory.
3. A pneumatic cylinder: constant area, where all is in closed form.
"""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tussock.errors import DomainError
from tussock.mechanics.springs import AirBag

pytestmark = pytest.mark.literature
ATM = 101_325.0


def _cylinder(exponent: float, pressure: float = 3e5) -> AirBag:
    """Area 80 cm2, filled at 150 mm with the volume of a column of 150 mm."""
    return AirBag(
        height=np.array([0.25, 0.15, 0.05]),
        area=np.full(3, 8e-3),
        fill_height=0.15,
        fill_pressure=pressure,
        fill_volume=8e-3 * 0.15,
        exponent=exponent,
    )


def test_slow_compression_follows_boyle() -> None:
    """Sources 1 and 3: half the height, twice the absolute pressure."""
    bag = _cylinder(1.0)
    assert bag.load_at(0.15) == pytest.approx(3e5 * 8e-3, rel=1e-12)
    assert bag.load_at(0.075) == pytest.approx((2.0 * (3e5 + ATM) - ATM) * 8e-3, rel=1e-12)
    # a cylinder of height h: rate p A / h
    assert bag.rate_at(0.075) == pytest.approx(2.0 * (3e5 + ATM) * 8e-3 / 0.075, rel=1e-12)


@given(exponent=st.floats(1.0, 1.4), height=st.floats(0.06, 0.24))
def test_polytropic_cylinder(exponent: float, height: float) -> None:
    """Sources 1 to 3."""
    bag = _cylinder(exponent)
    absolute = (3e5 + ATM) * (0.15 / height) ** exponent
    assert bag.gauge_pressure(height) == pytest.approx(absolute - ATM, rel=1e-9)
    assert bag.rate_at(height) == pytest.approx(exponent * absolute * 8e-3 / height, rel=1e-9)


def test_a_changing_area_enters_the_rate() -> None:
    """Source 2: a bag whose area grows as it is pressed is stiffer, one on a waisted piston softer."""
    height = np.array([0.22, 0.18, 0.14, 0.10])
    kwargs = {"height": height, "fill_height": 0.16, "fill_pressure": 3e5, "fill_volume": 1.5e-3}
    grows = AirBag(area=np.array([6.5e-3, 7.5e-3, 8.5e-3, 9.5e-3]), **kwargs)  # type: ignore[arg-type]
    shrinks = AirBag(area=np.array([9.5e-3, 8.5e-3, 7.5e-3, 6.5e-3]), **kwargs)  # type: ignore[arg-type]
    assert grows.load_at(0.16) == pytest.approx(shrinks.load_at(0.16), rel=1e-9)
    # dA/dh is -+0.025 m: 3 bar times 0.025 m each way
    assert grows.rate_at(0.16) - shrinks.rate_at(0.16) == pytest.approx(2.0 * 3e5 * 0.025, rel=1e-6)


def test_a_bag_without_pressure_still_pushes_when_pressed() -> None:
    """Filled at the outside pressure it is loose above the filling height, and no work is stored there."""
    bag = _cylinder(1.3, pressure=0.0)
    assert bag.load_at(0.16) == 0.0
    assert bag.rate_at(0.16) == 0.0
    assert bag.energy_at(0.16) == 0.0
    assert bag.load_at(0.10) > 0.0
    assert 0.0 < bag.energy_at(0.149) < 0.05


def test_thin_air_lifts_less_after_the_climb() -> None:
    """Filled to the same gauge pressure, the bag filled in thin air is softer."""
    low = _cylinder(1.3)
    high = AirBag(
        height=low.height, area=low.area, fill_height=0.15, fill_pressure=3e5, fill_volume=1.2e-3, atmosphere=7e4
    )
    assert high.load_at(0.15) == pytest.approx(low.load_at(0.15))
    assert high.rate_at(0.15) < low.rate_at(0.15)


@pytest.mark.parametrize(
    ("change", "wrong"),
    [
        ({"fill_height": 0.3}, "outside its curve"),
        ({"fill_pressure": -1.0}, "must not be negative"),
        ({"fill_volume": 5e-4}, "used up before 50 mm"),
        ({"exponent": 2.0}, r"slow\) to 1.67"),
        ({"area": np.array([8e-3, 0.0, 8e-3])}, "must be positive"),
        ({"height": np.array([0.25, 0.26, 0.05])}, "heights must fall"),
        ({"height": np.array([0.25, 0.05]), "area": np.array([1.0, 1.0])}, "at least 3 pairs"),
    ],
)
def test_bags_that_cannot_be_are_refused(change: dict[str, object], wrong: str) -> None:
    good = {
        "height": np.array([0.25, 0.15, 0.05]),
        "area": np.full(3, 8e-3),
        "fill_height": 0.15,
        "fill_pressure": 3e5,
        "fill_volume": 1.2e-3,
    }
    with pytest.raises(DomainError, match=wrong):
        AirBag(**(good | change))  # type: ignore[arg-type]


@given(height=st.floats(0.051, 0.249), exponent=st.floats(1.0, 1.4))
def test_loads_along_a_motion_are_those_of_the_curve(height: float, exponent: float) -> None:
    """Within its curve; beyond, a pulled cylinder goes on by the gas law and a pressed one with its last rate."""
    bag = _cylinder(exponent)
    inside, above, below = bag.forces(np.array([height, 0.30, 0.03]))
    assert inside == pytest.approx(bag.load_at(height), rel=1e-12)
    assert above == pytest.approx(max((3e5 + ATM) * 0.5**exponent - ATM, 0.0) * 8e-3, rel=1e-9)
    assert below == pytest.approx(bag.load_at(0.05) + 0.02 * bag.rate_at(0.05), rel=1e-9)
    assert bag.held_forces(np.array([height]))[0] == pytest.approx(2400.0, rel=1e-12)
    again = bag.refilled(height, bag.gauge_pressure(height))
    assert again.forces(np.array([0.1]))[0] == pytest.approx(bag.forces(np.array([0.1]))[0], rel=1e-9)
