"""Forces inside the discs against the forces on them, from what a state publishes and energies written here anew."""

from __future__ import annotations

import math

import numpy as np
import pytest
from stack_samples import CROSS_OVER, MM, TAPERED, stack

from tussock.mechanics.arrays import Floats
from tussock.mechanics.dampers.stack import Seat, Stack, StackState, Washer, solve

LIMITED = stack(
    [15, 15, 9, 14, 12],
    [0.2, 0.2, 0.1, 0.2, 0.2],
    gaps=(0.0, 0.1 * MM, 0.0, 0.05 * MM),
    washer=Washer(radius=11 * MM, height=0.15 * MM),
    seats=(Seat(radius=13 * MM),),
)
STACKS = {"tapered": TAPERED, "cross-over": CROSS_OVER, "limited": LIMITED}


def pushed_up(state: StackState, disc: int) -> float:
    """Load and contact forces on a disc, together [N]."""
    contacts = state.contacts
    load = state.pressure * math.pi * sum(port.outer**2 - port.inner**2 for port in state.stack.ports)
    return (load if disc == 1 else 0.0) + contacts.total(upper=disc) - contacts.total(lower=disc)


def thin_plate_energy(state: StackState, disc: int, w: np.ndarray) -> complex:
    """Energy of a thin disc with moderate rotations, deflections `w` by node in place of the state's own [J]."""
    grid, k = state.grid, disc - 1
    young, nu, t = grid.modulus[k], grid.poisson[k], grid.thickness[k]
    plane = young * t / (1.0 - nu**2)
    points, weights = np.polynomial.legendre.leggauss(8)
    total = 0.0 + 0.0j
    for e in range(grid.clamp[k], grid.rim[k]):
        a, h = grid.radius[e], grid.radius[e + 1] - grid.radius[e]
        x = 0.5 * (points + 1.0)
        r, ring = a + h * x, 0.5 * math.pi * h * weights
        b0, b1 = state.deflection[k, e, 1], state.deflection[k, e + 1, 1]
        u0, u1, bubble = state.membrane[k, e], state.membrane[k, e + 1], state.bubble[k, e]
        chord = (w[e + 1] - w[e]) / h
        slope = 6 * x * (1 - x) * chord + (1 - x) * (1 - 3 * x) * b0 + x * (3 * x - 2) * b1
        curve = ((6 - 12 * x) * chord + (6 * x - 4) * b0 + (6 * x - 2) * b1) / h
        radial = (u1 - u0) / h + bubble * 4 * (1 - 2 * x) / h + 0.5 * slope**2
        hoop = (u0 * (1 - x) + u1 * x + bubble * 4 * x * (1 - x)) / r
        bend = t**2 / 12 * (curve**2 + 2 * nu * curve * slope / r + (slope / r) ** 2)
        total += plane * np.sum(ring * r * (bend + radial**2 + 2 * nu * radial * hoop + hoop**2))
    return complex(total)


@pytest.mark.parametrize("pressure", [0.1e6, 2e6])
@pytest.mark.parametrize("name", list(STACKS))
def test_every_clamp_carries_what_pushes_its_disc(name: str, pressure: float) -> None:
    """Virtual work: lifting a thin disc's clamp by itself takes just the sum of the forces on the disc."""
    state = solve(STACKS[name], pressure, shear=False, faces=False)
    load = pushed_up(state, 1) + state.contacts.total(lower=1)
    for disc in range(1, len(state.stack.discs) + 1):
        w = state.deflection[disc - 1, :, 0].astype(complex)
        w[state.grid.clamp[disc - 1]] += 1e-30j
        reaction = thin_plate_energy(state, disc, w).imag / 1e-30
        assert -reaction == pytest.approx(pushed_up(state, disc), abs=1e-5 * load)


def shear_at_clamp(state: StackState, disc: int) -> float:
    """Force through a disc's first element [N], from its shear strain with kappa 5/6 and the pull along its slope."""
    grid, k = state.grid, disc - 1
    e = int(grid.clamp[k])
    h, r = grid.radius[e + 1] - grid.radius[e], 0.5 * (grid.radius[e] + grid.radius[e + 1])
    young, nu, t = grid.modulus[k], grid.poisson[k], grid.thickness[k]
    kappa_g_t = 5.0 / 6.0 * young / (2.0 * (1.0 + nu)) * t
    soft = young * t**3 / (1.0 - nu**2) / kappa_g_t / h**2
    (w0, b0), (w1, b1) = state.deflection[k, e], state.deflection[k, e + 1]
    chord, turned = (w1 - w0) / h, 0.5 * (b0 + b1)
    strain = soft / (1.0 + soft) * (chord - turned)
    slope = (1.5 * chord - 0.5 * turned + soft * chord) / (1.0 + soft)
    stretch = (state.membrane[k, e + 1] - state.membrane[k, e]) / h + 0.5 * slope**2
    hoop = (0.5 * (state.membrane[k, e] + state.membrane[k, e + 1]) + state.bubble[k, e]) / r
    pull = young * t / (1.0 - nu**2) * (stretch + nu * hoop)
    return float(2.0 * math.pi * r * (kappa_g_t * strain + pull * slope))


def clamp_forces(one: Stack, pressure: float, element: float) -> tuple[Floats, Floats]:
    """Forces through the first elements, and on the discs [N]."""
    state = solve(one, pressure, element=element)
    discs = range(1, len(one.discs) + 1)
    return np.array([shear_at_clamp(state, k) for k in discs]), np.array([pushed_up(state, k) for k in discs])


@pytest.mark.parametrize("name", list(STACKS))
def test_shear_strain_at_the_clamps_carries_the_load(name: str) -> None:
    """All discs' shear at the clamp, seat and washer carry the load; the strain of an element is of first order."""
    for pressure in (0.1e6, 2e6):
        inside, outside = clamp_forces(STACKS[name], pressure, 0.1e-3)
        assert inside.sum() == pytest.approx(outside.sum(), rel=3e-3)
