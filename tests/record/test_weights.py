"""Weights of the two indices and shares of sections in a programme: what is refused, and what stays as written."""

from __future__ import annotations

import pytest

from tussock.mechanics import measures as m
from tussock.record import ProgrammeError, loads
from tussock.record.weights import MEASURES

ANCHOR = "\n  side_to_side:"
GOOD = "{comfort: {seat: 50 %, shock_medium: 0.3, toss: 0.2}, control: {load: 1}}"


def with_weights(text: str, weights: str) -> str:
    assert ANCHOR in text
    return text.replace(ANCHOR, f"\n  weights: {weights}{ANCHOR}", 1)


def test_measures_that_may_be_weighed_are_those_of_mechanics() -> None:
    assert set(MEASURES) == set(m.MEASURES)


def test_weights_are_read(tarn_text: str) -> None:
    own = loads(with_weights(tarn_text, GOOD)).programme.targets.weights
    assert own is not None
    assert {name: float(w) for name, w in own.comfort.items()} == {"seat": 0.5, "shock_medium": 0.3, "toss": 0.2}
    assert {name: float(w) for name, w in own.control.items()} == {"load": 1.0}
    assert loads(tarn_text).programme.targets.weights is None


@pytest.mark.parametrize(
    ("weights", "path", "said"),
    [
        ("{comfort: {seat: 0.5, toss: 0.2}, control: {load: 1}}", "targets.weights.comfort", "add up to 1. Found 0.7"),
        ("{comfort: {seat: 1}, control: {}}", "targets.weights.control", "add up to 1. Found nothing"),
        ("{comfort: {seta: 1}, control: {load: 1}}", "targets.weights.comfort.seta", "did you mean 'seat'?"),
        ("{comfort: {seat: 1.5}, control: {load: 1}}", "targets.weights.comfort.seat", "1.5"),
        ("{comfort: {seat: 1}, control: {load: 2, float: -1}}", "targets.weights.control.float", "-1"),
        ("{comfort: {seat: 1}}", "targets.weights.control", "missing"),
    ],
)
def test_weights_that_make_no_index_are_refused(tarn_text: str, weights: str, path: str, said: str) -> None:
    with pytest.raises(ProgrammeError) as caught:
        loads(with_weights(tarn_text, weights))
    found = [str(p) for p in caught.value.problems if p.path == path]
    assert found
    assert said in found[0]


def test_a_section_counts_by_its_share(tarn_text: str) -> None:
    text = tarn_text.replace("{name: valley road,", "{name: valley road, share: 3,", 1)
    shares = {s.name: float(s.share) for s in loads(text).programme.road_loop.sections}
    assert shares.pop("valley road") == 3.0
    assert set(shares.values()) == {1.0}
    with pytest.raises(ProgrammeError, match="must be positive"):
        loads(tarn_text.replace("{name: valley road,", "{name: valley road, share: 0,", 1))
