"""The tyre's cornering stiffness over load and side force against published data.

Sources
-------
[1] Pacejka, Tire and Vehicle Dynamics, 3rd ed. 2012, appendix 3: passenger tyre 205/60R15 (PKY1 15.324, PKY2 1.715,
    PKY4 2.0005 and F_z0 4000 N checked in a public file; the table below is computed from the set, not by the
    project).
[2] Pacejka, same, chapter 3: brush with parabolic pressure (form from memory).
[3] Gillespie, Fundamentals of Vehicle Dynamics, 1992: cornering coefficient of radial tyres 0.11 to 0.19 per degree.
[4] Same set as [1], inflation: cornering stiffness times 1 + PPY1 dp with PPY1 = -0.6255 and its peak's load times
    1 + PPY2 dp with PPY2 = -0.06523 (both seen in a public file of the set). Vertical stiffness times 1 + PFZ1 dp:
    Besselink, Schmeitz, Pacejka, Vehicle System Dynamics 48 (2010), PFZ1 from memory.
[5] 6 to 9 % more vertical stiffness for 10 % more pressure: common practice, no source.
"""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tussock.errors import DomainError
from tussock.mechanics.tyre import Tyre

REFERENCE_LOAD = 4000.0
# K_y [N/deg] at F_z [N], from the set of [1]
TABLED = {2000.0: 575.1, 4000.0: 931.2, 6000.0: 1060.3, 8000.0: 1057.2}


def tyre(**changes: float) -> Tyre:
    """Return a tyre with the tabled cornering stiffness at the reference load."""
    settings = {
        "vertical_stiffness": 210e3,
        "vertical_damping": 120.0,
        "free_radius": 0.313,
        "cornering_stiffness": math.degrees(TABLED[REFERENCE_LOAD]),
        "reference_load": REFERENCE_LOAD,
        "friction": 0.88,
        "relaxation_length": 0.5,
        **changes,
    }
    return Tyre(**settings)


@pytest.mark.literature
@pytest.mark.parametrize("load", TABLED)
def test_cornering_stiffness_over_load(load: float) -> None:
    """One stiffness at one load and PKY2 give the whole curve; PKY4 = 2 instead of 2.0005 costs below 0.03 %."""
    assert math.radians(tyre().cornering(load)) == pytest.approx(TABLED[load], rel=3e-4)


@pytest.mark.literature
def test_formula_is_the_sine_of_a_double_arctangent() -> None:
    t = tyre()
    peak = 15.324 * REFERENCE_LOAD
    for load in (500.0, 3000.0, 5500.0, 9000.0):
        published = peak * math.sin(2.0005 * math.atan(load / (1.715 * REFERENCE_LOAD)))
        assert t.cornering(load) == pytest.approx(published, rel=6e-4)


@pytest.mark.literature
def test_cornering_coefficient_lies_in_the_range_of_radial_tyres() -> None:
    """0.11 to 0.19 of the load per degree [3], for the invented wagon's tyre; that of [1] is lower and stiffer."""
    wagon = tyre(cornering_stiffness=42e3, reference_load=4400.0)
    for load in (3500.0, 4400.0, 6000.0):
        assert 0.11 < math.radians(wagon.cornering(load)) / load < 0.19


@pytest.mark.literature
def test_brush_starts_with_the_cornering_stiffness_and_ends_with_friction() -> None:
    """Parabolic pressure: F = 3 mu N (e - e^2 + e^3 / 3), e = C tan(a) / (3 mu N), full sliding from e = 1 [2]."""
    t = tyre()
    load, slip = 4000.0, 1e-5
    assert t.side_force(slip, load) / slip == pytest.approx(t.cornering(load), rel=1e-3)
    sliding = 3.0 * t.friction * load / t.cornering(load)
    assert t.side_force(sliding, load) == pytest.approx(t.friction * load, rel=1e-12)
    assert t.side_force(2.0 * sliding, load) == pytest.approx(t.friction * load, rel=1e-12)
    e = 0.4
    assert t.side_force(e * sliding, load) == pytest.approx(
        3.0 * t.friction * load * (e - e**2 + e**3 / 3.0), rel=1e-12
    )


def test_brush_stays_near_the_published_curve_up_to_four_degrees() -> None:
    """Magic Formula side forces of [1] at 4,000 N: 917.8, 1753.3, 2908.3 N at 1, 2, 4 deg; a brush falls short.

    It has no shape factor: 7, 11 and 12 % short, said here rather than tuned away.
    """
    t = tyre()
    for degrees, published, near in ((1.0, 917.8, 0.08), (2.0, 1753.3, 0.12), (4.0, 2908.3, 0.12)):
        force = t.side_force(math.tan(math.radians(degrees)), 4000.0)
        print(f"{degrees} deg: {force:.0f} N against {published} N, {force / published - 1.0:+.1%}")
        assert force == pytest.approx(published, rel=near)


@pytest.mark.literature
@pytest.mark.parametrize("ratio", [0.8, 0.9, 1.1, 1.2])
def test_cornering_stiffness_over_pressure(ratio: float) -> None:
    """[4] at the nominal load; the project's comes from contact length and brush, so 5 % of the stiffness is near."""
    dp = ratio - 1.0
    magnitude = (1.0 - 0.6255 * dp) * math.sin(2.0005 * math.atan(1.0 / (1.715 * (1.0 - 0.06523 * dp))))
    published = magnitude / math.sin(2.0005 * math.atan(1.0 / 1.715))
    own = tyre().inflated(ratio).cornering_stiffness / tyre().cornering_stiffness
    print(f"pressure {ratio}: {own:.4f} against {published:.4f}, {own / published - 1.0:+.1%}")
    assert own == pytest.approx(published, rel=0.05)


@pytest.mark.literature
def test_vertical_stiffness_over_pressure_is_what_workshops_say() -> None:
    """6 to 9 % for 10 % [5]."""
    assert 1.06 <= tyre().inflated(1.1).vertical_stiffness / tyre().vertical_stiffness <= 1.09


@given(one=st.floats(0.5, 1.6), two=st.floats(0.5, 1.6))
def test_pressures_follow_each_other(one: float, two: float) -> None:
    """Two steps of pressure are one step, back again is the same tyre, and the side force at a load only shifts."""
    twice, at_once = tyre().inflated(one).inflated(two), tyre().inflated(one * two)
    for name in ("vertical_stiffness", "cornering_stiffness", "relaxation_length", "contact_length", "inflation"):
        assert getattr(twice, name) == pytest.approx(getattr(at_once, name), rel=1e-12)
        back = getattr(tyre().inflated(one).inflated(1.0 / one), name)
        assert back == pytest.approx(getattr(tyre(), name), rel=1e-12)


@pytest.mark.parametrize("ratio", [0.0, -1.0, math.nan, math.inf])
def test_no_pressure_is_refused(ratio: float) -> None:
    with pytest.raises(DomainError, match="must be above 0"):
        tyre().inflated(ratio)


@given(load=st.floats(0.0, 2e4))
def test_deflection_carries_its_load(load: float) -> None:
    t = tyre()
    d = t.deflection(load)
    share = min(d / t.toe, 1.0)
    carried = t.vertical_stiffness * (d - t.toe * (share - 0.5 * share**2))
    assert carried == pytest.approx(load, rel=1e-9, abs=1e-9)


@given(slip=st.floats(-1.0, 1.0), load=st.floats(1.0, 1.5e4))
def test_side_force_is_odd_and_below_friction(slip: float, load: float) -> None:
    t = tyre()
    assert t.side_force(-slip, load) == -t.side_force(slip, load)
    assert abs(t.side_force(slip, load)) <= t.friction * load * (1.0 + 1e-12)


@pytest.mark.parametrize("name", ["vertical_stiffness", "free_radius", "friction", "relaxation_length", "toe"])
@pytest.mark.parametrize("value", [0.0, -1.0, math.nan, math.inf])
def test_impossible_tyre_is_refused_by_name(name: str, value: float) -> None:
    with pytest.raises(DomainError, match=name):
        tyre(**{name: value})


@pytest.mark.parametrize("name", ["vertical_damping", "camber_gain", "carcass_time", "contact_length"])
@pytest.mark.parametrize("value", [-1.0, math.nan])
def test_negative_property_is_refused_by_name(name: str, value: float) -> None:
    with pytest.raises(DomainError, match=name):
        tyre(**{name: value})
