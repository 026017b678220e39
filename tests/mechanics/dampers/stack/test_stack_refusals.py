"""What cannot be built or solved is refused in words that name the part, its numbers and the remedy."""

from __future__ import annotations

import math
import re
import sys
from typing import Any

import numpy as np
import pytest
from stack_samples import MM, STEEL, TAPERED, discs, stack

from tussock.errors import DomainError, SolverError
from tussock.mechanics.dampers.stack import (
    Disc,
    Material,
    Port,
    RingLoad,
    Seat,
    Stack,
    Washer,
    lift_curve,
    opening_pressure,
    solve,
)

PORT = (Port(inner=8 * MM, outer=12 * MM),)


def build(**change: Any) -> Stack:
    """A sound stack with something changed."""
    return Stack(**{"discs": discs([14, 12], 0.2), "clamp_radius": 5 * MM, "ports": PORT, **change})


@pytest.mark.parametrize(
    ("change", "text"),
    [
        ({"discs": ()}, "the stack is empty"),
        ({"clamp_radius": 12 * MM}, r"disc 2: clamp radius 12 mm leaves none of its radius 12 mm to bend"),
        ({"clamp_radius": (5 * MM, 13 * MM)}, r"disc 2: clamp radius 13 mm"),
        ({"clamp_radius": (5 * MM,)}, "1 clamp radii for 2 discs"),
        ({"clamp_radius": -1 * MM}, "clamp radius of disc 1 is -1 mm"),
        ({"gaps": (0.1 * MM, 0.1 * MM)}, "2 gaps for 2 discs; give 1"),
        ({"gaps": (-0.1 * MM,)}, r"gap above disc 1 is -0.1 mm"),
        ({"ports": ()}, "nothing acts on the stack"),
        ({"ports": (Port(inner=8 * MM, outer=14.5 * MM),)}, r"8 mm to 14.5 mm must lie between .* 5 mm and .* 14 mm"),
        ({"ports": (Port(inner=4 * MM, outer=12 * MM),)}, r"port from radius 4 mm"),
        ({"ports": (*PORT, Port(inner=11 * MM, outer=13 * MM))}, r"8 mm to 12 mm and 11 mm to 13 mm overlap"),
        ({"seats": (Seat(radius=15 * MM),)}, r"seat at radius 15 mm must lie outside the clamp radius 5 mm"),
        ({"ring_loads": (RingLoad(radius=5 * MM, area=1e-4),)}, r"ring load at radius 5 mm"),
        ({"seats": (Seat(radius=13 * MM), Seat(radius=13.05 * MM))}, r"13 mm and 13.05 mm are one"),
        ({"discs": discs([5.2, 12], 0.3)}, r"disc 1 is 0.3 mm thick over a free span of 0.2 mm"),
        (
            {
                "seats": (Seat(radius=11 * MM, height=0.3 * MM),),
                "washer": Washer(radius=12 * MM, height=0.2 * MM),
            },
            r"11 mm stands 0.3 mm high, but the backing washer leaves 0.2 mm",
        ),
        (
            {"seats": (Seat(radius=8 * MM, height=0.1 * MM),), "clamp_radius": (5 * MM, 9 * MM)},
            r"8 mm stands 0.1 mm high, but disc 2, clamped up to 9 mm, leaves 0 mm",
        ),
    ],
)  # fmt: skip
def test_stack_that_cannot_be_built(change: dict[str, Any], text: str) -> None:
    with pytest.raises(DomainError, match=text):
        build(**change)


def test_washer_below_the_seat_is_right_past_short_discs() -> None:
    """Beyond the rim of short discs their thickness is free height too."""
    one = Stack(
        discs=discs([14, 8, 8], 0.2),
        clamp_radius=5 * MM,
        ports=PORT,
        seats=(Seat(radius=13 * MM, height=0.3 * MM),),
        washer=Washer(radius=13 * MM, height=0.1 * MM),
    )
    state = solve(one, 1e5)
    assert state.contacts.gap.min() > -1e-9


@pytest.mark.parametrize(
    ("make", "text"),
    [
        (lambda: Disc(radius=0.0, thickness=0.2 * MM, material=STEEL), "disc radius is 0 mm"),
        (lambda: Disc(radius=14 * MM, thickness=math.nan, material=STEEL), "disc thickness is nan mm"),
        (lambda: Port(inner=12 * MM, outer=8 * MM), "12 mm to 8 mm: the outer radius must be the larger"),
        (lambda: Port(inner=8 * MM, outer=12 * MM, share=1.2), "share of pressure 1.2"),
        (lambda: Seat(radius=12 * MM, height=8 * MM), "seat height 8 mm"),
        (lambda: Washer(radius=12 * MM, height=-1 * MM), "height is -1 mm"),
        (lambda: RingLoad(radius=12 * MM, area=0.0), "ring load's area is 0"),
        (
            lambda: Material(youngs_modulus=206e9, poisson_ratio=0.5, density=7850.0, fatigue_strength=1e8),
            "Poisson's ratio 0.5",
        ),
        (
            lambda: Material(youngs_modulus=-1.0, poisson_ratio=0.3, density=7850.0, fatigue_strength=1e8),
            "Young's modulus is -1e-09 GPa",
        ),
    ],
)
def test_part_with_impossible_numbers(make: Any, text: str) -> None:
    with pytest.raises(DomainError, match=re.escape(text)):
        make()


@pytest.mark.parametrize(
    ("pressures", "text"), [([1e5, -1e5], "-0.1 MPa (number 2)"), ([math.inf], "inf MPa"), ([], "shape (0,)")]
)
def test_impossible_pressures(pressures: list[float], text: str) -> None:
    with pytest.raises(DomainError, match=re.escape(text)):
        lift_curve(TAPERED, pressures)


def test_impossible_element_and_disc_number() -> None:
    with pytest.raises(DomainError, match=r"element length 0\.001 mm"):
        solve(TAPERED, 1e5, element=1e-6)
    with pytest.raises(DomainError, match="disc 13 asked; the stack has discs 1 to 12"):
        solve(TAPERED, 1e5).profile(13)


@pytest.mark.parametrize(
    ("which", "limit", "text"), [(3, 1.0, "no convergence in 1 steps"), (4, 1.0, "no consistent set of contacts")]
)
def test_solver_that_stops_early_says_so(monkeypatch: pytest.MonkeyPatch, which: int, limit: float, text: str) -> None:
    module = sys.modules[solve.__module__]
    limits = np.array(module.LIMITS)
    limits[which] = limit
    monkeypatch.setattr(module, "LIMITS", limits)
    with pytest.raises(SolverError, match=text):
        solve(stack([14, 9, 12, 7, 11], gaps=(0.02 * MM, 0.0, 0.02 * MM, 0.0)), 2e6)


def test_pressure_that_no_damper_sees_is_solved_and_warned_of() -> None:
    state = solve(stack([14, 12]), 300e6)
    assert np.isfinite(state.tips).all()
    assert any("rough guide" in text for text in state.warnings)


def test_seat_that_pressure_cannot_open() -> None:
    """A port inside the rim of a stiff short disc tips the first disc's rim down on its seat."""
    one = Stack(
        discs=discs([14, 7], [0.1, 1.0]),
        clamp_radius=5 * MM,
        ports=(Port(inner=5.2 * MM, outer=6 * MM),),
        seats=(Seat(radius=13 * MM, height=0.1 * MM),),
    )
    with pytest.raises(SolverError, match="no pressure up to 1 GPa opens it"):
        opening_pressure(one)
