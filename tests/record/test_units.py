"""Quantities: what is read, what is refused, and factors against Pint as an outside library."""

from __future__ import annotations

import math
import subprocess
import sys
from fractions import Fraction

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tussock.record.units import COMMON, DIMENSIONS, QuantityError, parse, unit_factor


def read(text: str, dimension: str) -> tuple[float, float]:
    quantity = parse(text, dimension, example="95 mm")
    return quantity.si, quantity.spread


@pytest.mark.parametrize(
    ("text", "dimension", "si", "spread"),
    [
        ("612 mm +- 2 mm", "length", 0.612, 0.002),
        ("612 +- 2 mm", "length", 0.612, 0.002),
        ("612 mm +- 2", "length", 0.612, 0.002),
        ("612 mm ± 2 mm", "length", 0.612, 0.002),
        ("612mm+/-2mm", "length", 0.612, 0.002),
        ("2700 mm", "length", 2.7, 0.0),
        ("1.1 in", "length", 0.02794, 0.0),  # 25.4 mm to the inch, exact since 1959
        ("28 N/mm", "rate", 28e3, 0.0),
        ("21.5 N/mm +- 3 %", "rate", 21.5e3, 645.0),
        ("15 kgf/mm", "rate", 15 * 9806.65, 0.0),  # kgf by standard gravity, CGPM 1901
        ("150 lbf/in", "rate", 150 * 4.4482216152605 / 0.0254, 0.0),  # lbf: NIST SP 811 appendix B
        ("2.5 deg", "angle", 2.5 * math.pi / 180, 0.0),
        ("2.5°", "angle", 2.5 * math.pi / 180, 0.0),
        ("-1.2 %", "slope", -0.012, 0.0),
        ("−1.2 %", "slope", -0.012, 0.0),
        ("85 % +- 2 %", "ratio", 0.85, 0.02),
        ("3 g", "load_factor", 3.0, 0.0),
        ("3 g", "acceleration", 3 * 9.80665, 0.0),
        ("3 g", "mass", 0.003, 0.0),
        ("1.3 Hz", "frequency", 1.3, 0.0),
        ("2.4 bar", "pressure", 2.4e5, 0.0),
        ("35 psi", "pressure", 35 * 4.4482216152605 / 0.0254**2, 0.0),
        ("28 N m/deg", "angular_rate", 28 * 180 / math.pi, 0.0),
        ("28 N·m/deg", "angular_rate", 28 * 180 / math.pi, 0.0),
        ("56 kg m^2", "inertia", 56.0, 0.0),
        ("56 kg m²", "inertia", 56.0, 0.0),
        ("80 km/h", "speed", 80 / 3.6, 0.0),
        ("256e-6 m^3", "density", 256e-6, 0.0),
        ("0.85", "ratio", 0.85, 0.0),
        ("430 cm^3", "volume", 430e-6, 0.0),
        ("0.43 l", "volume", 430e-6, 0.0),
        ("14 mm²/s", "viscosity", 14e-6, 0.0),
        ("14 cSt", "viscosity", 14e-6, 0.0),
        ("0.865 g/cm^3", "mass_density", 865.0, 0.0),
        ("206 GPa", "pressure", 206e9, 0.0),
        ("40 degC", "temperature", 313.15, 0.0),
        ("-20 °C +- 2 K", "temperature", 253.15, 2.0),
        ("300 K", "temperature", 300.0, 0.0),
    ],
)
def test_what_people_write_is_read(text: str, dimension: str, si: float, spread: float) -> None:
    value, around = read(text, dimension)
    assert value == pytest.approx(si, rel=1e-14)
    assert around == pytest.approx(spread, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "dimension", "said"),
    [
        ("28", "rate", "no unit"),
        ("28 kg", "rate", "'kg' is a mass"),
        ("40", "temperature", "no unit"),
        ("40 mm", "temperature", "'mm' is a length"),
        ("28 kg/mm", "rate", "write kgf or lbf"),
        ("28 N m", "angular_rate", "'N m' is a torque"),
        ("28 N m/deg", "torque", "rotational stiffness"),
        ("28 Nm/deg", "angular_rate", "did you mean 'N m/deg'?"),
        ("5 KG", "mass", "did you mean 'kg'?"),
        ("2,5 mm", "length", "decimal comma"),
        ("nan mm", "length", "not a finite"),
        ("inf mm", "length", "not a finite"),
        ("1e999 mm", "length", "not a finite"),
        ("5 mm +- -1 mm", "length", "negative"),
        ("5 mm +- 1 kg", "length", "'kg' is a mass"),
        ("5 furlongs per fortnight!", "length", "not a number with a unit"),
        ("5 blorks", "length", "unknown unit 'blorks'"),
        ("", "length", "empty"),
        ("mm", "length", "not a number"),
        ("1 m" + " " * 200, "length", "no quantity"),
        ("5 m**9**9**9", "length", "unknown unit"),
        ("5 __import__", "length", "not a number with a unit"),
        ("5 x.__class__", "length", "not a number with a unit"),
        ("5 os__system", "length", "unknown unit"),
        ("20 degC", "length", "wanted a length"),
    ],
)
def test_what_is_wrong_is_said(text: str, dimension: str, said: str) -> None:
    with pytest.raises(QuantityError) as caught:
        read(text, dimension)
    assert said in str(caught.value)
    assert "95 mm" in str(caught.value)


@pytest.mark.parametrize("unit", COMMON)
def test_every_common_unit_has_exactly_the_factor_of_pint(unit: str) -> None:
    factor, (mass, length, time, angle) = COMMON[unit]
    registry = pint.UnitRegistry(non_int_type=Fraction)  # exact: its floats carry the rounding of a cube
    theirs, base = registry.get_base_units(registry.parse_units(unit.replace("^", "**")))
    assert factor == float(theirs)
    powers = {"kilogram": mass, "meter": length, "second": time, "radian": angle}
    assert {name: power for name, power in powers.items() if power} == dict(base._units.items())


@pytest.mark.parametrize("name", DIMENSIONS)
def test_every_unit_that_is_offered_belongs_to_its_dimension(name: str) -> None:
    for unit in DIMENSIONS[name].units:
        assert unit_factor(unit, name) is not None, unit


@given(
    number=st.floats(-1e6, 1e6, allow_nan=False),
    spread=st.floats(0, 1e3),
    unit=st.sampled_from([u for u in COMMON if unit_factor(u, "length")]),
)
def test_a_written_length_is_read_back(number: float, spread: float, unit: str) -> None:
    factor = COMMON[unit][0]
    value, around = read(f"{number!r} {unit} +- {spread!r} {unit}", "length")
    assert value == pytest.approx(number * factor, rel=1e-15, abs=1e-300)
    assert around == pytest.approx(spread * factor, rel=1e-15, abs=1e-300)


@given(st.text(max_size=60), st.sampled_from(sorted(DIMENSIONS)))
def test_any_text_is_read_or_refused_in_words(text: str, dimension: str) -> None:
    try:
        quantity = parse(text, dimension, example="95 mm")
    except QuantityError:
        return
    assert math.isfinite(quantity.si)
    assert quantity.spread >= 0.0


def test_pint_is_not_imported_for_the_demo() -> None:
    code = (
        "import sys; from importlib.resources import files; from tussock.record import load;"
        "load(str(files('tussock')) + '/data/tarn/programme.yaml', check_files=False);"
        "sys.exit('pint' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
