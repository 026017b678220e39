"""What every face of a Result may rely on."""

from __future__ import annotations

import json
import math

import pytest

from tussock.studies.display import KINDS
from tussock.studies.result import Axis, Column, Line, LineChart, Notice, Provenance, Result, Table

LENGTH = Column(key="at", title="At", kind="length")


def result(**more: object) -> Result:
    where = Provenance(programme="Tarn", digest="0", tussock="0", data="invented")
    settings: dict[str, object] = {"stage": "x", "question": "Q?", "answer": "A.", "passes": True, "provenance": where}
    return Result(**{**settings, **more})  # type: ignore[arg-type]


@pytest.mark.parametrize("row", [(), (1.0, 2.0)])
def test_ragged_rows_are_refused(row: tuple[float, ...]) -> None:
    with pytest.raises(ValueError, match=f"table t: row 1 has {len(row)} cells, wants 1"):
        Table(key="t", title="T", columns=(LENGTH,), rows=((1.0,), row))


def test_unknown_kind_is_refused() -> None:
    with pytest.raises(KeyError, match="unknown kind 'furlong'"):
        Table(key="t", title="T", columns=(Column(key="a", title="A", kind="furlong"),), rows=())


@pytest.mark.parametrize("kind", sorted(KINDS))
def test_columns_and_axes_carry_their_si_unit_into_json(kind: str) -> None:
    table = Table(key="t", title="T", columns=(Column(key="a", title="A", kind=kind),), rows=((1.5,),))
    chart = LineChart(
        key="c",
        title="C",
        x=Axis(title="x", kind=kind),
        y=Axis(title="y", kind="length"),
        lines=(Line(label="l", x=(0.0,), y=(1.0,)),),
    )
    plain = json.loads(json.dumps(result(tables=(table,), pictures=(chart,)).as_json(), allow_nan=False))
    assert plain["tables"][0]["columns"][0]["unit"] == KINDS[kind].si_unit
    assert plain["pictures"][0]["x"]["unit"] == KINDS[kind].si_unit
    assert plain["tables"][0]["rows"] == [[1.5]]


def test_what_is_not_finite_becomes_null() -> None:
    table = Table(key="t", title="T", columns=(LENGTH,), rows=((math.inf,), (math.nan,), (None,)))
    plain = result(tables=(table,), values={"a_m": math.inf, "b_m": 0.1}).as_json()
    assert json.loads(json.dumps(plain, allow_nan=False))["tables"][0]["rows"] == [[None], [None], [None]]
    assert plain["values"] == {"a_m": None, "b_m": 0.1}


def test_state() -> None:
    notice = (Notice(text="so", remedy="do"),)
    assert result().state == "answered"
    assert result(notices=notice).state == "look"
    assert result(passes=False).state == "look"
    assert result(passes=False, notices=notice).as_json()["state"] == "look"


def test_table_by_name() -> None:
    table = Table(key="t", title="T", columns=(LENGTH,), rows=())
    assert result(tables=(table,)).table("t") is table
    with pytest.raises(KeyError, match="other"):
        result(tables=(table,)).table("other")
