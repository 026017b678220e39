"""How figures are written and found again in a sentence."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tussock.studies.display import KINDS, MINUS, figures, number, show

FINITE = st.floats(min_value=-1e5, max_value=1e5, allow_nan=False)
KIND = st.sampled_from(sorted(set(KINDS) - {"text"}))


@given(FINITE, KIND, st.booleans())
def test_what_is_written_reads_back_to_half_its_last_digit(value: float, kind: str, sign: bool) -> None:
    rule = KINDS[kind]
    read = float(number(value, kind, sign=sign).replace(MINUS, "-"))
    meant = (value - rule.zero) * rule.factor
    assert abs(read - meant) <= 0.5 * 10.0**-rule.digits * (1.0 + 1e-9) + 1e-12 * abs(meant)


@given(FINITE, KIND)
def test_signs(value: float, kind: str) -> None:
    plain, signed = number(value, kind), number(value, kind, sign=True)
    assert "-" not in plain + signed
    assert "+" not in plain
    if float(plain.replace(MINUS, "-")) == 0.0:
        assert MINUS not in plain + signed
        assert "+" not in signed
    else:
        assert plain.startswith(MINUS) == (value < KINDS[kind].zero)
        assert signed.startswith("+") == (value > KINDS[kind].zero)
    assert plain.lstrip(MINUS) == signed.lstrip("+" + MINUS)


@given(FINITE, KIND)
def test_the_unit_follows_after_one_space(value: float, kind: str) -> None:
    unit = KINDS[kind].unit
    assert show(value, kind) == (f"{number(value, kind)} {unit}" if unit else number(value, kind))


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_no_number_says_so(value: float) -> None:
    assert number(value, "length") == "none"


@pytest.mark.parametrize(
    ("kind", "si", "text"),
    [
        ("length", 0.0435, "44 mm"),
        ("rate", 21.5e3, "21.5 N/mm"),
        ("speed", 100.0 / 3.6, "100 km/h"),
        ("angle", math.pi / 180.0, "1.0 deg"),
        ("angle_gain", math.pi / 180.0 / 1e-2, "100.0 deg/m"),
        ("roll_gradient", math.radians(4.0) / 9.80665, "4.0 deg/g"),
        ("roll_rate", 250.0 * 180.0 / math.pi, "250 N m/deg"),
        ("force_k", 9806.65, "9.81 kN"),
        ("stress", 870e6, "870 MPa"),
        ("share", 0.667, "66.7 %"),
        ("rotation_speed", math.tau, "360.0 deg/s"),
    ],
)
def test_units_people_read(kind: str, si: float, text: str) -> None:
    """Degrees and standard gravity: BIPM, The International System of Units, 9th edition."""
    assert show(si, kind) == text


@given(st.text(max_size=60))
def test_pieces_join_to_the_sentence(text: str) -> None:
    assert "".join(piece for piece, _ in figures(text)) == text


@given(FINITE, st.sampled_from(["length", "rate", "frequency", "share", "mass", "angle", "acceleration", "force_k"]))
def test_a_shown_figure_is_found_whole(value: float, kind: str) -> None:
    shown = show(value, kind)
    assert figures(f"The front has {shown}, no more.") == (
        ("The front has ", False),
        (shown, True),
        (", no more.", False),
    )


@pytest.mark.parametrize("name", ["B2", "ISO 2631-1 rule"])
def test_digits_in_names_are_no_figures(name: str) -> None:
    marked = [piece for piece, figure in figures(f"{name} holds") if figure]
    assert "2" not in marked
    assert "1" not in marked
