"""A damper from its drawing: assembly, parameters, the memory of stacks, and what cannot be built."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tests.mechanics.dampers.tarn_builds import (
    BODY,
    MM,
    REBOUND,
    compression,
    discs,
    foot,
    mono,
    rebound,
    twin,
)

from tussock.errors import DomainError, SolverError
from tussock.mechanics.dampers.assembly import (
    RANGES,
    Bleed,
    LiftTables,
    Parameters,
    Ports,
    Valving,
    assemble,
    curve_at,
    force_at,
    stack_of,
)
from tussock.mechanics.dampers.stack import lift_curve

SPEEDS = np.array([-1.0, -0.5, -0.1, 0.0, 0.1, 0.5, 1.0])


@pytest.fixture(scope="module")
def lifts() -> LiftTables:
    return LiftTables()


def test_parts_add_up_to_the_force(lifts: LiftTables) -> None:
    for build in (twin(), mono()):
        got = force_at(build, SPEEDS, lifts=lifts)
        assert np.sum(list(got.parts.values()), axis=0) == pytest.approx(got.hydraulic_force, rel=1e-9, abs=1e-6)
        assert np.all(np.diff(got.hydraulic_force) > 0.0)


def test_hot_oil_takes_force_from_the_gap_and_the_bleeds_but_little_from_the_discs(lifts: LiftTables) -> None:
    cold, hot = (force_at(twin(), SPEEDS, temperature=t, lifts=lifts) for t in (273.15, 373.15))
    share = np.abs(hot.hydraulic_force[SPEEDS != 0.0] / cold.hydraulic_force[SPEEDS != 0.0])
    assert np.all(share < 1.0)
    assert np.all(share > 0.7)


def test_a_stack_is_solved_once_and_only_the_seat_offset_solves_it_again() -> None:
    lifts = LiftTables()
    force_at(twin(), SPEEDS, lifts=lifts)
    assert len(lifts) == 3
    for name, (least, most) in RANGES.items():
        middle = 0.5 * (least + most) if name != "jet_coefficient" else 0.05
        force_at(twin(), SPEEDS, parameters=Parameters(**{name: middle}), lifts=lifts)
    assert len(lifts) == 3
    force_at(twin(), SPEEDS, parameters=Parameters(seat_offset=0.01e-3), lifts=lifts)
    assert len(lifts) == 6


def test_memory_drops_the_oldest() -> None:
    lifts = LiftTables(most=2)
    assemble(twin(), lifts=lifts)
    assert len(lifts) == 2


def test_the_table_agrees_with_the_stack_solved_at_pressures_between(lifts: LiftTables) -> None:
    damper = assemble(twin(), lifts=lifts)
    valve = damper.piston.rebound
    assert valve is not None
    asked = np.array([0.7e6, 1.3e6, 2.7e6, 5.1e6])
    assert valve.lift_at(asked) == pytest.approx(lift_curve(stack_of(rebound()), asked).lift, rel=0.01, abs=1e-6)


def test_a_spacer_is_a_gap_and_closing_discs_no_wider_than_the_clamp_bend_nothing() -> None:
    stack = stack_of(compression())
    assert len(stack.discs) == 3
    assert stack.gaps == (0.0, pytest.approx(0.10e-3))
    closed = replace(compression(), discs=compression().discs + discs((0.3, 12)))
    assert stack_of(closed) == stack


def test_the_seat_offset_raises_every_seat() -> None:
    raised = stack_of(rebound(), Parameters(seat_offset=0.02e-3))
    assert raised.seats[0].height == pytest.approx(0.17e-3)


@pytest.mark.parametrize(
    ("name", "value", "place"),
    [
        ("curtain_discharge", 0.6, "rebound"), ("port_factor", 0.7, "rebound"), ("bleed_factor", 0.6, "rebound"),
        ("band_gap", 0.01e-3, "rebound"), ("seat_offset", 0.03e-3, "rebound"), ("jet_coefficient", 0.0, "rebound"),
    ],
)  # fmt: skip
def test_each_parameter_moves_the_force_the_way_it_should(
    lifts: LiftTables, name: str, value: float, place: str
) -> None:
    base = force_at(twin(), SPEEDS, lifts=lifts).hydraulic_force
    firm = force_at(twin(), SPEEDS, parameters=Parameters(**{name: value}), lifts=lifts).hydraulic_force
    assert np.all(np.abs(firm) >= np.abs(base) - 1e-9)
    assert firm[1] < base[1]


def test_friction_is_the_bodys_where_it_was_measured(lifts: LiftTables) -> None:
    measured = replace(twin(), body=replace(BODY, friction=61.0))
    assert assemble(twin(), parameters=Parameters(seal_friction=33.0), lifts=lifts).friction == 33.0
    assert assemble(measured, parameters=Parameters(seal_friction=33.0), lifts=lifts).friction == 61.0


def test_curve_is_the_force_without_gas_and_friction(lifts: LiftTables) -> None:
    curve = curve_at(twin(), temperature=313.15, lifts=lifts)
    got = force_at(twin(), SPEEDS, temperature=313.15, lifts=lifts)
    assert curve.at(SPEEDS) == pytest.approx(got.hydraulic_force, rel=0.01, abs=1.0)
    assert curve.gas_force == pytest.approx(got.gas_force)


@settings(deadline=None, max_examples=15)
@given(
    thickness=st.lists(st.sampled_from([0.10, 0.15, 0.20, 0.25, 0.30]), min_size=1, max_size=6),
    shrink=st.lists(st.sampled_from([0.0, 1.0, 2.0, 4.0]), min_size=6, max_size=6),
    height=st.sampled_from([0.0, 0.05, 0.1]),
)
def test_any_tapered_stack_gives_a_rising_curve(thickness: list[float], shrink: list[float], height: float) -> None:
    diameters = np.maximum(28.0 - np.concatenate([[0.0], np.cumsum(shrink)])[: len(thickness)], 12.5)
    stack = discs(*zip(thickness, diameters.tolist(), strict=True))
    build = twin(piston=Valving(compression=compression(), rebound=rebound(stack, seat_height=height * MM)))
    got = force_at(build, np.array([-2.0, -1.0, -0.3, -0.05]), parameters=Parameters(jet_coefficient=0.0))
    assert np.all(np.diff(got.hydraulic_force) > 0.0)


def test_a_stiffer_disc_in_the_stack_adds_force(lifts: LiftTables) -> None:
    firm = twin(piston=replace(twin().piston, rebound=rebound(discs((0.20, 28), (0.25, 28)) + REBOUND[2:])))
    soft, hard = (force_at(b, SPEEDS, lifts=lifts).hydraulic_force for b in (twin(), firm))
    assert np.all(hard[:2] < soft[:2])
    assert hard[4:] == pytest.approx(soft[4:])


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: rebound(()), "empty"),
        (lambda: rebound(clamp=14.5 * MM), "clamp of 29 mm is not smaller than the seat disc of 28 mm"),
        (lambda: rebound(seat=14.5 * MM), "does not cover its seat"),
        (lambda: rebound(clamp=9 * MM), "under the clamp"),
        (lambda: rebound(land=2 * MM), "past the inner edge of the seat"),
        (lambda: rebound(notch=-1e-6), "notch"),
        (lambda: Ports(count=8, diameter=8 * MM, length=8 * MM, circle=10 * MM), "8 ports of 8 mm overlap"),
        (lambda: Ports(count=0, diameter=8 * MM, length=8 * MM, circle=10 * MM), "0 ports"),
        (lambda: Ports(count=2, diameter=0.0, length=8 * MM, circle=10 * MM), "port diameter"),
        (lambda: Bleed(diameter=-1.0), "bleed diameter"),
        (lambda: twin(foot=None), "needs a foot valve"),
        (lambda: replace(mono(), foot=foot()), "no foot valve"),
        (lambda: replace(BODY, tube_bore=None), "outer tube"),
        (lambda: replace(BODY, architecture="other"), "architecture 'other'"),
        (
            lambda: twin(piston=Valving(rebound=rebound(discs((0.2, 36)) + REBOUND))),
            "Tarn front, piston rebound: 36 mm is not smaller than the bore of 35 mm",
        ),
        (lambda: assemble(twin(body=replace(BODY, rod=36 * MM))), "rod of 36 mm is wider than the piston of 35 mm"),
        (lambda: assemble(twin(body=replace(BODY, oil_volume=0.0))), "there is no oil in it"),
        (lambda: force_at(twin(), np.array([-10.5, 0.0, 1.0])), "the model goes to 10 m/s"),
        (lambda: Parameters(curtain_discharge=1.4), "curtain discharge"),
        (lambda: Parameters(band_gap=float("nan")), "band gap"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_by_name(make: object, words: str) -> None:
    with pytest.raises(DomainError, match=words):
        make()  # type: ignore[operator]


def test_a_stack_that_never_opens_says_which_valve() -> None:
    hard = twin(piston=Valving(compression=compression(), rebound=rebound(discs(*[(0.8, 28)] * 8), seat_height=1e-3)))
    with pytest.raises((SolverError, DomainError), match="Tarn front, piston rebound"):
        assemble(hard)


def test_the_solver_answers_at_ten_metres_a_second(lifts: LiftTables) -> None:
    got = force_at(twin(), np.array([-10.0, 0.0, 10.0]), lifts=lifts)
    assert np.all(np.isfinite(got.force))
    assert got.warnings
