"""A person on a cushion against what is published of seated people, and against the same masses in time.

Sources
-------
1. Wei and Griffin 1998, J Sound Vib 214(1) 121-137: parameters of the two-mass model, from memory, unsure.
2. Fairley and Griffin 1989, J Biomech 22(2) 81-94: main resonance of the apparent mass near 5 Hz, mass over the static
   one about 1.2 to 1.6 there; from memory, unsure.
3. Cars' foam seats: main resonance near 4 Hz, 1.5 to 2.5 times the floor, floor isolated above about 6 Hz; common
   practice, no source.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.signal import StateSpace, lsim

from tussock.errors import DomainError
from tussock.mechanics.measures import Cushion, SeatedPerson, SeatPassesOn, rms

STEP = 2e-3
FOAM = Cushion(stiffness=70e3, damping=300.0)


@pytest.mark.literature
def test_the_persons_resonance() -> None:
    """Source 2: near 5 Hz (within 1 Hz), 1.2 to 1.6 times the sitting mass; at rest that mass, high up the frame's."""
    person = SeatedPerson()
    f = np.linspace(0.1, 30.0, 3000)
    size = np.abs(person.apparent_mass(f)) / person.sitting_mass
    assert f[np.argmax(size)] == pytest.approx(5.0, abs=1.0)
    assert 1.2 < size.max() < 1.6
    assert size[0] == pytest.approx(1.0, abs=1e-3)
    assert np.abs(person.apparent_mass(np.array([1e5])))[0] == pytest.approx(person.frame, rel=1e-3)


@pytest.mark.literature
def test_the_one_mass_person_of_the_same_paper_weighs_as_much() -> None:
    """Source 1, parameters of both models from memory: sitting mass within 1 %, apparent mass to 20 Hz within 20 %."""
    two, one = SeatedPerson(), SeatedPerson(frame=7.8, masses=(43.4,), stiffnesses=(44130.0,), dampings=(1485.0,))
    assert one.sitting_mass == pytest.approx(two.sitting_mass, rel=0.01)
    f = np.linspace(0.1, 20.0, 400)
    np.testing.assert_allclose(np.abs(one.apparent_mass(f)), np.abs(two.apparent_mass(f)), rtol=0.2)


def test_a_person_on_foam_may_be_carried_as_a_mass() -> None:
    """A quarter car on a random road with the person on the cushion, and with the person's weight bolted down.

    Left out of the body's motion the person moves the rail's r.m.s. by less than 3 %, that of the surface by less than
    0.5 %: so `surface` follows the floor without acting back on it.
    """
    f = np.linspace(0.2, 40.0, 4000)
    s = 2j * math.pi * f

    def rail(load: np.ndarray | float) -> np.ndarray:
        body, springing = 0.25 * (1500.0 + load), 25e3 + 1800.0 * s
        follows = springing / (body * s**2 + springing)
        wheel = 240e3 / (70.0 * s**2 + springing * (1.0 - follows) + 240e3)
        return np.abs(follows * wheel * s)  # acceleration over the road's slope in time

    gain, person = FOAM.transmissibility(f), SeatedPerson()
    bolted, sits = rail(person.sitting_mass), rail(person.apparent_mass(f) * gain)
    assert rms(sits) == pytest.approx(rms(bolted), rel=0.03)
    assert rms(sits * np.abs(gain)) == pytest.approx(rms(bolted * np.abs(gain)), rel=0.005)


def test_a_seat_at_rest_passes_all_on() -> None:
    assert SeatPassesOn(rail=0.0, surface=0.0).value == 1.0
    assert SeatPassesOn(rail=0.8, surface=0.6).value == pytest.approx(0.75)


def test_a_foam_seat_amplifies_near_4_hz_and_isolates_above() -> None:
    """Source 3."""
    f = np.linspace(0.1, 30.0, 3000)
    gain = np.abs(FOAM.transmissibility(f))
    assert 3.0 < f[np.argmax(gain)] < 5.5
    assert 1.4 < gain.max() < 2.5
    assert gain[0] == pytest.approx(1.0, abs=2e-3)
    assert np.all(gain[f > 9.0] < 1.0)


def test_the_surface_is_that_of_the_masses_in_time() -> None:
    """Cushion, frame and both masses as a state-space model marched by SciPy: 0.5 % of the r.m.s."""
    p, k, c = SeatedPerson(), FOAM.stiffness, FOAM.damping
    (m1, m2), (k1, k2), (c1, c2) = p.masses, p.stiffnesses, p.dampings
    mass = np.diag([p.frame, m1, m2])
    rate = np.array([[k + k1 + k2, -k1, -k2], [-k1, k1, 0.0], [-k2, 0.0, k2]])
    damp = np.array([[c + c1 + c2, -c1, -c2], [-c1, c1, 0.0], [-c2, 0.0, c2]])
    inverse = np.linalg.inv(mass)
    # relative to the floor: M x'' + C x' + K x = -M 1 a
    a = np.block([[np.zeros((3, 3)), np.eye(3)], [-inverse @ rate, -inverse @ damp]])
    b = np.concatenate([np.zeros(3), -np.ones(3)])[:, None]
    out = a[3:4]
    t = np.arange(15_000) * STEP
    floor = np.sin(2.0 * math.pi * np.cumsum(np.linspace(0.5, 15.0, t.size)) * STEP)
    _, relative, _ = lsim(StateSpace(a, b, out, np.array([[-1.0]])), floor, t)
    want = relative.ravel() + floor
    got = FOAM.surface(floor, STEP)
    assert rms(got - want) < 0.005 * rms(want)


@settings(max_examples=20, deadline=None)
@given(factor=st.floats(0.01, 100.0), seed=st.integers(0, 1000), stiffness=st.floats(10e3, 300e3))
def test_a_cushion_is_linear_and_a_hard_one_is_the_floor(factor: float, seed: int, stiffness: float) -> None:
    floor = np.random.default_rng(seed).standard_normal(2000)
    soft = Cushion(stiffness=stiffness, damping=300.0)
    np.testing.assert_allclose(
        soft.surface(factor * floor, STEP), factor * soft.surface(floor, STEP), rtol=1e-9, atol=1e-9
    )
    np.testing.assert_allclose(Cushion(stiffness=1e12, damping=0.0).surface(floor, STEP), floor, atol=1e-4)


@pytest.mark.parametrize(("make", "text"), [
    (lambda: Cushion(stiffness=0.0, damping=1.0), "stiffness 0 N/m"),
    (lambda: Cushion(stiffness=1e5, damping=-1.0), "damping -1"),
])  # fmt: skip
def test_refusals_of_cushions(make, text) -> None:
    with pytest.raises(DomainError, match=text):
        make()
