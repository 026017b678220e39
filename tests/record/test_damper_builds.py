"""Bodies, valves and discs in a programme: how they are read, what is refused, and that they are written back."""

from __future__ import annotations

from collections.abc import Callable
from importlib.resources import files
from pathlib import Path

import jsonschema
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tussock.record import ProgrammeError, dump, json_schema, loads, with_field
from tussock.record.discs import DiscLine, DiscRule, HolesRule, disc_words
from tussock.record.tree import read_tree
from tussock.record.units import QuantityError

DEMO = (Path(str(files("tussock"))) / "data" / "tarn" / "programme.yaml").read_text(encoding="utf-8")
HEAD, TAIL = DEMO.split("    front_a:\n", 1)
Spoil = Callable[[str, str], tuple[str, str, str]]

A = "kit.dampers.front_a"
PISTON = f"{A}.valves.piston"

# a field of front_a as it stands, what is put there, path of the fault, words, example offered
FAULTS: list[tuple[str, str, str, str, str]] = [
    ("rod: 18 mm", "rod: 38 mm", f"{A}.body.rod", "wider than the piston", "18 mm"),
    ("rod: 18 mm", "rod: 18", f"{A}.body.rod", "has no unit", "18 mm"),
    ("bore: 35 mm", "bore: 35 cm", f"{A}.body.bore", "did you mean 35 mm?", "35 mm"),
    ("oil_volume: 430 cm^3", "oil_volume: 0 cm^3", f"{A}.body.oil_volume", "must be positive", "430 cm^3"),
    ("oil_volume: 430 cm^3", "oil_volume: 930 cm^3", f"{A}.body.oil_volume", "no room for gas", "407 cm^3"),
    ("oil_volume: 430 cm^3", "oil_volume: 230 cm^3", f"{A}.body.oil_volume", "too little oil", "407 cm^3"),
    ("oil_volume: 430 cm^3", "oil_volume: 430 mm", f"{A}.body.oil_volume", "is a length", "430 cm^3"),
    ("        oil_volume: 430 cm^3\n", "", f"{A}.body.oil_volume", "missing", "430 cm^3"),
    ("oil: damper_oil", "oil: dampr_oil", f"{A}.body.oil", "did you mean 'damper_oil'?", "damper_oil"),
    ("outer_bore: 51 mm", "outer_bore: 37 mm", f"{A}.body.outer_bore", "no room round", "51 mm"),
    ("        outer_bore: 51 mm\n", "", f"{A}.body.outer_bore", "two tubes", "51 mm"),
    ("length: 335 mm ", "length: 235 mm ", f"{A}.body.length", "need 264 mm inside", "324 mm"),
    ("architecture: twin_tube", "architecture: twintube", f"{A}.body.architecture", "did you mean", "twin_tube"),
    ("architecture: twin_tube", "architecture: mono_tube", f"{A}.valves.foot", "a mono-tube has none", ""),
    ("gas_pressure: 5.3 bar", "gas_pressure: -5 bar", f"{A}.body.gas_pressure", "must be positive", "5.3 bar"),
    ("[2 of 0.15 x 28 mm", "[2 of 0.15 x 36 mm", f"{PISTON}.rebound.stack.0", "not smaller than the bore", "28 mm"),
    ("[2 of 0.15 x 28 mm", "[2 of 0.17 x 28 mm", f"{PISTON}.rebound.stack.0", "nearest is 0.15 x 28", "0.15 x 28 mm"),
    ("[2 of 0.15 x 28 mm", "[2 of 28 x 0.15 mm", f"{PISTON}.rebound.stack.0", "thickness comes first", "0.15 x 28 mm"),
    ("[2 of 0.15 x 28 mm", "[two thin ones", f"{PISTON}.rebound.stack.0", "is no disc", "0.20 x 28 mm"),
    ("[2 of 0.15 x 28 mm", "[0 of 0.15 x 28 mm", f"{PISTON}.rebound.stack.0", "1 to 200", "0.20 x 28 mm"),
    (
        "[2 of 0.15 x 28 mm",
        "[0.15 x 28 mm in brass",
        f"{PISTON}.rebound.stack.0",
        "no discs of 'brass'",
        "spring_steel",
    ),
    (
        "stack: [2 of 0.15 x 28 mm, 0.15 x 26 mm, 0.15 x 24 mm, 0.20 x 22 mm, 0.20 x 20 mm, 0.20 x 18 mm]",
        "stack: []",
        f"{PISTON}.rebound.stack",
        "the stack is empty",
        "0.20 x 28 mm",
    ),
    ("clamp: 14 mm", "clamp: 30 mm", f"{PISTON}.rebound.clamp", "not smaller than the seat disc", "12 mm"),
    ("            clamp: 14 mm\n", "", f"{PISTON}.rebound.clamp", "to what diameter", "12 mm"),
    ("clamp: 14 mm", "clamp: 17 mm", f"{PISTON}.rebound.ports.circle", "under the clamp", ""),
    ("seat: 26 mm", "seat: 28.5 mm", f"{PISTON}.rebound.seat", "does not cover its seat", "27 mm"),
    ("seat: 26 mm", "seat: 23 mm", f"{PISTON}.rebound.seat", "past the inner edge", "25.0 mm"),
    ("seat: 26 mm", "seat: 26 mm\n            land: 1.5 mm", f"{PISTON}.rebound.seat", "past the inner edge", ""),
    ("holes: 6 of 3.5 mm", "holes: 12 of 6.5 mm", f"{PISTON}.rebound.ports.holes", "the ports overlap", "12 of"),
    ("holes: 6 of 3.5 mm", "holes: 8 of 6.0 mm", f"{PISTON}.rebound.ports.holes", "of both strokes overlap", "8 of"),
    ("holes: 6 of 3.5 mm", "holes: six", f"{PISTON}.rebound.ports.holes", "no holes", "6 of 4.0 mm"),
    ("recess_outer: 24 mm", "recess_outer: 12 mm", f"{PISTON}.rebound.ports.recess_outer", "not the larger", ""),
    (", recess_outer: 24 mm", "", f"{PISTON}.rebound.ports.recess_inner", "inner and an outer", ""),
    ("torque: 14 N m", "torque: 14 N", f"{PISTON}.rebound.torque", "is a force", "12 N m"),
    (
        "            plate: {rate: 0.8 N/mm, preload: 0.8 N, stop: 1.5 mm}\n",
        "",
        f"{A}.valves.foot.rebound.stack",
        "either a stack of discs or a sprung plate",
        "",
    ),
    ("dyno: dyno/front-a.csv", "forces_from: valvs", f"{A}.forces_from", "did you mean 'valves'?", "valves"),
]


@pytest.mark.parametrize(
    ("old", "new", "path", "said", "example"), FAULTS, ids=[f"{f[2]}-{i}" for i, f in enumerate(FAULTS)]
)
def test_one_fault_is_found_at_its_field(old: str, new: str, path: str, said: str, example: str) -> None:
    assert old in TAIL
    with pytest.raises(ProgrammeError) as caught:
        loads(HEAD + "    front_a:\n" + TAIL.replace(old, new, 1), "tarn.yaml")
    found = [p for p in caught.value.problems if p.path == path]
    assert len(found) == 1, [str(p) for p in caught.value.problems]
    assert said in found[0].wrong
    assert example in found[0].example
    assert found[0].example, "every fault shows what would be right"


def test_stock_is_listed_once() -> None:
    with pytest.raises(ProgrammeError, match="a second line of this size"):
        loads(DEMO.replace("sizes: [0.10 x 11 mm,", "sizes: [0.10 x 11 mm, 3 of 0.100 x 11.0 mm,"))


def test_a_size_in_two_materials_must_say_which() -> None:
    bronze = "    bronze: {youngs_modulus: 110 GPa, fatigue_strength: 300 MPa, sizes: [0.15 x 28 mm]}\n  oils:"
    text = DEMO.replace("  oils:", bronze)
    with pytest.raises(ProgrammeError, match="in stock in spring_steel and bronze; say which"):
        loads(text)
    said = text.replace("0.15 x 28 mm,", "0.15 x 28 mm in spring_steel,").replace(
        "60 of 0.15 x 28 mm in spring_steel", "60 of 0.15 x 28 mm"
    )
    assert loads(said).programme.kit.dampers["front_a"].valves is not None


def test_a_damper_needs_no_dyno_once_it_has_valves_and_no_valves_once_it_has_a_dyno() -> None:
    front_a = loads(DEMO.replace("      dyno: dyno/front-a.csv\n", "")).programme.kit.dampers["front_a"]
    assert front_a.dyno is None
    assert loads(DEMO).programme.vehicle.axles.front.damper.valves is None
    with pytest.raises(ProgrammeError, match="valves without a body"):
        loads(DEMO.replace("      body: *rear_body\n", ""))
    with pytest.raises(ProgrammeError, match="forces are to come from its valves"):
        loads(DEMO.replace("dyno: dyno/stock-front.csv", "dyno: dyno/stock-front.csv\n        forces_from: valves", 1))


def test_the_demo_round_trips_to_the_letter() -> None:
    assert dump(loads(DEMO).document, like=DEMO) == DEMO


def test_one_disc_changed_is_one_line_changed() -> None:
    loaded = loads(DEMO)
    new = with_field(loaded, "kit.dampers.front_b.valves.piston.rebound.stack.1", "0.25 x 26 mm")
    pairs = zip(DEMO.splitlines(), new.text.splitlines(), strict=True)
    (changed,) = ((a, b) for a, b in pairs if a != b)
    assert changed[1] == changed[0].replace("0.20 x 26 mm", "0.25 x 26 mm")
    assert loaded.text == DEMO


def test_the_schema_takes_the_demo_and_refuses_what_is_no_disc() -> None:
    validator = jsonschema.Draft202012Validator(json_schema())
    assert [e.message for e in validator.iter_errors(read_tree(DEMO, name="tarn").data)] == []
    for old, new in (("[2 of 0.15 x 28 mm", "[2 of 0.15 by 28 mm"), ("holes: 6 of 3.5 mm", "holes: 3.5")):
        assert not validator.is_valid(read_tree(DEMO.replace(old, new, 1), name="tarn").data)


@pytest.mark.parametrize(
    ("text", "count", "thickness", "diameter", "material"),
    [
        ("0.20 x 28 mm", 0, 0.2e-3, 28e-3, ""),
        ("3 of 0.20 x 28 mm", 3, 0.2e-3, 28e-3, ""),
        ("3 of 0.2 × 28 mm", 3, 0.2e-3, 28e-3, ""),
        ("  0.2  x 28.5 mm in bronze ", 0, 0.2e-3, 28.5e-3, "bronze"),
    ],
)
def test_what_the_workshop_writes_is_read(
    text: str, count: int, thickness: float, diameter: float, material: str
) -> None:
    line = DiscRule().read(text)
    assert (line.count, line.material) == (count, material)
    assert (line.thickness, line.diameter) == pytest.approx((thickness, diameter))
    assert str(line) == text.strip()


@given(st.integers(20, 3000), st.integers(4000, 100000))
def test_a_disc_in_words_is_the_same_disc(thickness: int, diameter: int) -> None:
    line = DiscRule().read(f"{thickness / 1e3} x {diameter / 1e3} mm")
    assert line.size == (thickness, diameter)
    again = DiscRule().read(disc_words(line.thickness, line.diameter) + " mm")
    assert again.size == (thickness, pytest.approx(diameter, abs=1))  # six figures of the diameter


@given(st.text(max_size=40))
def test_any_text_is_a_disc_and_holes_or_refused_in_words(text: str) -> None:
    for rule in (DiscRule(), HolesRule()):
        try:
            read = rule.read(text)
        except QuantityError:
            continue
        assert read.count >= 0


def test_a_line_stands_for_its_text() -> None:
    line = DiscRule().read("3 of 0.20 x 28 mm")
    assert isinstance(line, DiscLine)
    assert line.words == "0.20 x 28"
    assert DiscRule().read(line) == line
