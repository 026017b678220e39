"""A spring on the tester: the invented demo file, whose truth is in the tool that wrote it, against orders."""

from __future__ import annotations

import json
from importlib.resources import files

import pytest
from vary_programme import Vary

from tussock.errors import InputError
from tussock.mechanics.table_text import TableError
from tussock.studies import spring_test
from tussock.studies.job import Job

TEXT = files("tussock").joinpath("data/tarn/tester/front-standard.csv").read_text(encoding="utf-8")


def test_the_demo_file_says_what_was_put_into_it() -> None:
    """24.35 N/mm with 0.08 % from cycle to cycle, 28 N of friction, 487.2 mm less 0.6 mm of soft end coils."""
    result = spring_test.study(TEXT, "front-standard.csv")
    assert result.passes
    assert result.notices == ()
    values = {k: float(v) for k, v in result.values.items()}
    assert abs(values["rate_N_per_m"] - 24.35e3) <= values["rate_half_width_N_per_m"]
    assert values["rate_half_width_N_per_m"] < 200.0
    assert values["friction_N"] == pytest.approx(28.0, abs=2.0)
    assert values["free_length_m"] == pytest.approx(0.4866, abs=5e-4)
    json.dumps(result.as_json(), allow_nan=False)


def test_the_order_of_the_demo_is_kept(job: Job) -> None:
    result = spring_test.study(TEXT, "front-standard.csv", job=job, spring="front_standard")
    assert result.passes
    rows = result.table("order").rows
    assert [row[0] for row in rows] == ["rate", "free length", "load at 326 mm"]
    assert {row[-1] for row in rows} == {"within"}
    assert "all 3 figures of the order for the front coil, bare are kept" in result.answer


def test_another_spring_is_not_what_was_ordered(job: Job) -> None:
    result = spring_test.study(TEXT, "front-standard.csv", job=job, spring="front_winch")
    assert not result.passes
    assert "the rate and the free length are outside tolerance" in result.answer
    assert any("which lies outside 27.0 N/mm within 0.8 N/mm" in n.text for n in result.notices)


def test_a_tolerance_that_the_test_cannot_resolve_is_not_proven(vary: Vary) -> None:
    close = vary({"kit.springs.front_standard.rate": "24.2 N/mm +- 0.2 N/mm"})
    result = spring_test.study(TEXT, "front-standard.csv", job=close, spring="front_standard")
    assert result.passes
    assert "the rate is not proven to lie within tolerance" in result.answer
    assert any("measure more cycles" in n.remedy for n in result.notices)


def test_an_order_without_tolerances_says_so(vary: Vary) -> None:
    bare = vary({"kit.springs.front_standard.rate": "24 N/mm", "kit.springs.front_standard.load_tolerance": None})
    result = spring_test.study(TEXT, "front-standard.csv", job=bare, spring="front_standard")
    assert any("from memory" in n.text for n in result.notices)
    assert [row[4] for row in result.table("order").rows] == ["from memory", "stated", "from memory"]


def test_the_vehicles_own_spring_and_one_that_is_not_there(job: Job) -> None:
    assert spring_test.specification(job, "rear").rate == pytest.approx(22.5e3)
    with pytest.raises(InputError, match="there is no spring 'middle'; the programme has front_standard"):
        spring_test.study(TEXT, "x", job=job, spring="middle")
    with pytest.raises(InputError, match="which spring it is must be said"):
        spring_test.study(TEXT, "x", job=job)


def test_half_a_test_says_what_is_missing() -> None:
    text = "deflection [mm];load [N]\n" + "\n".join(f"{x};{24 * x}" for x in range(60))
    result = spring_test.study(text, "half.csv", free_length=0.4)
    said = " ".join(n.text for n in result.notices)
    assert "no unloading stroke" in said
    assert "1 cycle: the confidence" in said
    assert result.values["free_length_m"] == pytest.approx(0.4)
    with pytest.raises(TableError, match=r"half\.csv: the file is empty"):
        spring_test.study("", "half.csv")
