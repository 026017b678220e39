"""Search over stacks: a planted stack is found, no brute force does better, and what cannot be had is said.

All builds and stocks are invented.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tarn_builds import discs, mono, rebound, twin

from tussock.errors import DomainError
from tussock.mechanics.dampers.assembly import DamperBuild, LiftTables, StackValve, assemble, force_at
from tussock.mechanics.dampers.hydraulics import solve
from tussock.mechanics.dampers.search import (
    Found,
    Search,
    Shelf,
    ShelfDisc,
    ValvePlace,
    WantedPoint,
    changes_in_words,
    missing_disc,
    name_of,
    search,
    with_valve,
)
from tussock.mechanics.dampers.search.find import Screening
from tussock.mechanics.dampers.search.trial import Trial
from tussock.mechanics.dampers.stack import Disc

SPEEDS = (0.13, 0.26, 0.52, 1.04)
LIFTS = LiftTables()
STOCK = tuple(
    ShelfDisc(disc=one) for one in discs(*((t, d) for t in (0.15, 0.20, 0.25) for d in (16, 18, 20, 22, 24, 26, 28)))
)


def size_of_force(build: DamperBuild, sense: str) -> np.ndarray[tuple[int, ...], np.dtype[np.float64]]:
    sign = 1.0 if sense == "compression" else -1.0
    v = np.sort(sign * np.array(SPEEDS))
    force = np.abs(force_at(build, v, lifts=LIFTS).hydraulic_force)
    return force if sign > 0.0 else force[::-1]


def wanted(forces: object, share: float) -> tuple[WantedPoint, ...]:
    return tuple(
        WantedPoint(speed=s, force=float(f), least=float(f) * (1.0 - share), most=float(f) * (1.0 + share))
        for s, f in zip(SPEEDS, np.asarray(forces), strict=True)
    )


def planted(stack: tuple[Disc, ...], share: float) -> tuple[WantedPoint, ...]:
    return wanted(size_of_force(with_valve(mono(), "piston", "rebound", rebound(stack)), "rebound"), share)


@pytest.fixture(scope="module")
def two_changes() -> Search:
    stack = discs((0.20, 28), (0.25, 28), (0.20, 24), (0.20, 22), (0.20, 16))
    return search(mono(), "piston", "rebound", planted(stack, 0.001), STOCK, lifts=LIFTS, budget=12_000)


def test_planted_stack_is_found_with_its_two_changes(two_changes: Search) -> None:
    assert two_changes.reached
    assert two_changes.best.changes == 2
    stack = discs((0.20, 28), (0.25, 28), (0.20, 24), (0.20, 22), (0.20, 16))
    exact = [one for one in two_changes.found if one.valve.discs == stack]
    assert len(exact) == 1
    assert exact[0].worst < 0.01
    assert set(exact[0].words) == {
        "disc 2: 0.20 x 28 mm becomes 0.25 x 28 mm",
        "disc 4: 0.20 x 20 mm becomes 0.20 x 22 mm",
    }


def test_all_stacks_of_one_and_two_changes_were_tried(two_changes: Search) -> None:
    assert [level.complete for level in two_changes.levels] == [True, True]
    assert two_changes.tried == sum(level.tried for level in two_changes.levels) > 2000
    assert two_changes.unsolved == 0


def test_found_forces_are_those_of_the_whole_damper(two_changes: Search) -> None:
    build = with_valve(mono(), "piston", "rebound", two_changes.best.valve)
    np.testing.assert_allclose(two_changes.best.forces, size_of_force(build, "rebound"), rtol=1e-9)


def test_steps_of_the_piston_bracket_the_present_force(two_changes: Search) -> None:
    for step in two_changes.steps:
        assert step.softer < 0.0 < step.firmer
        assert max(-step.softer, step.firmer) < 0.1 * step.present
        assert step.softer_words
        assert step.firmer_words


def test_present_stack_in_its_bands_needs_no_change() -> None:
    found = search(mono(), "piston", "rebound", planted(rebound().discs, 0.01), STOCK, lifts=LIFTS, budget=300)
    assert found.best.changes == 0
    assert found.best.words == ()


def test_coarse_forces_are_near_the_fine_ones() -> None:
    want = planted(rebound().discs, 0.05)
    trial = Trial(mono(), "piston", "rebound", want, lifts=LIFTS)
    shelf = Shelf(present=trial.valve, stock=STOCK)
    screening = Screening(trial.place, shelf, want, trial.present(shelf).forces)
    orders = shelf.level([shelf.order], {shelf.order: 0}, most=1000)
    some = [orders[i] for i in np.random.default_rng(2).permutation(len(orders))[:12]]
    fine = np.array([trial.run(shelf, order, 1).forces for order in some])
    off = screening.forces(some) / fine - 1.0
    assert float(np.max(np.abs(off))) < 0.03
    assert float(np.median(np.abs(off))) < 0.005


@pytest.mark.parametrize(("part", "sense"), [("piston", "rebound"), ("piston", "compression"), ("base", "compression")])
def test_fast_way_gives_the_drop_of_the_hydraulics(part: str, sense: str) -> None:
    # the same network by rising_root, one valve set at a time
    damper = assemble(twin(), lifts=LIFTS)
    place = ValvePlace(damper=damper, part=part, sense=sense)  # type: ignore[arg-type]
    speeds = np.array([0.01, 0.05, 0.26, 1.04])
    fast = place.drops(np.array([1e5, 1e6]), np.ones((1, 2)), speeds)[0]
    own = place.valves.solve(place.flows(speeds), place.oil, sense=sense)  # type: ignore[arg-type]
    np.testing.assert_allclose(fast, own.drop, rtol=2e-3)
    forces = place.rest_of_force(speeds) + place.area * own.drop
    sign = 1.0 if sense == "compression" else -1.0
    whole = np.abs(solve(damper, velocities=np.sort(sign * speeds)).hydraulic_force)
    np.testing.assert_allclose(forces, whole if sign > 0 else whole[::-1], rtol=1e-3)


def test_wanted_lifts_are_the_valves_own_at_its_own_force() -> None:
    place = ValvePlace(damper=assemble(mono(), lifts=LIFTS), part="piston", sense="rebound")
    speeds = np.array([0.13, 0.52])
    force = np.array([size_of_force(mono(), "rebound")[i] for i in (0, 2)])
    pressure, lift = place.wanted_lifts(speeds, force)
    np.testing.assert_allclose(lift, place.valve.lift_at(pressure), rtol=1e-4)


@settings(max_examples=3, deadline=None, suppress_health_check=list(HealthCheck))
@given(
    present=st.lists(st.sampled_from([(0.15, 24), (0.20, 22), (0.20, 18)]), min_size=1, max_size=2),
    scale=st.floats(0.8, 1.3),
    share=st.sampled_from([0.01, 0.03]),
)
def test_never_worse_than_trying_everything_by_the_fine_model(
    present: list[tuple[float, float]], scale: float, share: float
) -> None:
    stack = discs((0.20, 28), *sorted(present, key=lambda one: -one[1]))
    build = with_valve(mono(), "piston", "rebound", rebound(stack))
    want = wanted(scale * size_of_force(build, "rebound"), share)
    stock = tuple(ShelfDisc(disc=one) for one in discs((0.20, 28), (0.25, 24), (0.15, 20)))
    found = search(build, "piston", "rebound", want, stock, lifts=LIFTS, most_changes=1, budget=500)
    trial = Trial(build, "piston", "rebound", want, lifts=LIFTS)
    shelf = Shelf(present=trial.valve, stock=stock)
    every: list[Found] = [trial.present(shelf)]
    every += [trial.run(shelf, order, 1) for order in shelf.level([shelf.order], {shelf.order: 0}, most=500)]
    best = min(every, key=lambda one: one.rank)
    assert (found.best.rank[0], found.best.changes if found.reached else 0) == (
        best.rank[0],
        best.changes if not best.rank[0] else 0,
    )
    if best.rank[0]:
        assert found.best.worst <= best.worst * 1.001 + 1e-9


def test_counts_of_the_shelf_are_kept() -> None:
    stack = discs((0.25, 28), (0.25, 28), (0.20, 24), (0.20, 20), (0.20, 16))
    want = planted(stack, 0.004)
    one_only = (ShelfDisc(disc=discs((0.25, 28))[0], count=1),)
    few = search(mono(), "piston", "rebound", want, one_only, lifts=LIFTS, most_changes=2, budget=2000)
    assert all(sum(disc.thickness == 0.25e-3 for disc in one.valve.discs) <= 1 for one in few.found)
    assert not few.reached
    enough = (ShelfDisc(disc=discs((0.25, 28))[0], count=2),)
    assert search(mono(), "piston", "rebound", want, enough, lifts=LIFTS, most_changes=2, budget=2000).reached


def test_disc_that_the_stock_lacks_is_named() -> None:
    stack = discs((0.20, 28), (0.20, 28), (0.30, 24), (0.20, 20), (0.20, 16))
    want = planted(stack, 0.005)
    poor = (ShelfDisc(disc=discs((0.10, 16))[0]),)
    found = search(mono(), "piston", "rebound", want, poor, lifts=LIFTS, most_changes=1, budget=500)
    assert not found.reached
    assert found.best.worst > 1.0
    missing = missing_disc(found, diameter_step=2e-3)
    assert missing.reaches
    assert missing.found.changes == 1
    assert missing.disc not in {item.disc for item in poor}


def test_wants_beyond_any_stack_say_what_else_must_change() -> None:
    most = size_of_force(mono(), "rebound")
    with pytest.raises(DomainError, match="smaller bleed"):
        search(mono(), "piston", "rebound", wanted(40.0 * most, 0.05), STOCK, lifts=LIFTS)
    with pytest.raises(DomainError, match="larger port"):
        search(mono(), "piston", "rebound", wanted(0.02 * most, 0.05), STOCK, lifts=LIFTS)


def test_stress_is_a_limit_where_one_is_given() -> None:
    want = planted(discs((0.20, 28), (0.20, 28), (0.25, 24), (0.20, 20), (0.20, 16)), 0.005)
    free = search(mono(), "piston", "rebound", want, STOCK, lifts=LIFTS, most_changes=1, budget=500)
    assert free.reached
    assert (free.best.usage > 1.0) == bool(free.best.warnings)
    held = search(
        mono(), "piston", "rebound", want, STOCK, lifts=LIFTS, most_changes=1, budget=500, most_usage=0.5
    )  # fmt: skip
    assert not held.reached


def test_orders_keep_seat_taper_and_post() -> None:
    shelf = Shelf(present=rebound(), stock=STOCK, most_discs=5, most_height=1.1e-3)
    orders = shelf.level([shelf.order], {shelf.order: 0}, most=10_000)
    assert len(orders) == len(set(orders)) > 20
    for order in orders:
        radii = [shelf.discs[i].radius for i in order]
        assert radii[0] >= shelf.present.seat
        assert radii == sorted(radii, reverse=True)
        assert len(order) <= 5
        assert sum(shelf.discs[i].thickness for i in order) <= 1.1e-3 + 1e-9
    free = Shelf(present=rebound(), stock=STOCK, tapered=False)
    assert len(free.level([free.order], {free.order: 0}, most=10_000)) > len(orders)


def test_changes_read_as_a_fitter_would_say_them() -> None:
    shelf = Shelf(present=rebound(), stock=STOCK)
    number = {disc: i for i, disc in enumerate(shelf.discs)}
    a, b, c, d = (number[x] for x in discs((0.20, 28), (0.20, 24), (0.20, 20), (0.20, 16)))
    thick = number[discs((0.25, 24))[0]]
    assert changes_in_words(shelf, (a, a, b, c, d)) == ()
    assert changes_in_words(shelf, (a, a, thick, c, d)) == ("disc 3: 0.20 x 24 mm becomes 0.25 x 24 mm",)
    assert changes_in_words(shelf, (a, b, c, d)) in {
        ("disc 1: 0.20 x 28 mm comes out",),
        ("disc 2: 0.20 x 28 mm comes out",),
    }
    assert changes_in_words(shelf, (a, a, b, c, c, d)) == ("0.20 x 20 mm goes in after disc 4",)
    assert name_of(shelf.discs[thick]) == "0.25 x 24 mm"


def test_what_makes_no_search_is_refused() -> None:
    with pytest.raises(DomainError, match="rising speeds"):
        search(mono(), "piston", "rebound", (), STOCK)
    with pytest.raises(DomainError, match="no stack of discs"):
        search(twin(), "foot", "rebound", planted(rebound().discs, 0.01), STOCK, lifts=LIFTS)
    with pytest.raises(DomainError, match="inside its band"):
        WantedPoint(speed=0.1, force=100.0, least=120.0, most=140.0)
    with pytest.raises(DomainError, match="0 or more"):
        ShelfDisc(disc=STOCK[0].disc, count=-1)


def test_twin_tube_foot_valve_is_searched_too() -> None:
    build = twin()
    foot = build.foot
    assert foot is not None
    valve = foot.compression
    assert isinstance(valve, StackValve)
    softer = replace(valve, discs=discs((0.15, 20), (0.15, 20), (0.10, 16), (0.15, 12)))
    want = wanted(size_of_force(with_valve(build, "foot", "compression", softer), "compression"), 0.01)
    stock = tuple(ShelfDisc(disc=one) for one in discs((0.10, 16), (0.10, 20), (0.15, 18)))
    found = search(build, "foot", "compression", want, stock, lifts=LIFTS, most_changes=1, budget=500)
    assert found.reached
    assert found.best.changes == 1
    assert math.isfinite(found.best.usage)
