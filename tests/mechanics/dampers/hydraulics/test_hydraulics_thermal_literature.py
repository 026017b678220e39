"""Heat of a damper against handbook formulas, worked examples and balances.

Sources
1. S. W. Churchill and M. Bernstein, Journal of Heat Transfer 99 (1977) 300-306 (cross flow).
2. A text book's worked example (Cengel, from memory): 10 cm pipe, 110 °C in air of 10 °C at 8 m/s: Re 4.219e4, Nu 124,
   h 34.8, 1093 W/m; recomputed 124.45, 34.95, 1098.
3. Coefficients of tubes of 45, 60 and 75 mm at 1 to 30 m/s, film 60 °C, air of the US Standard Atmosphere 1976:
   recomputed outside the project from source 1.
4. Churchill and Chu 1975, still air, 60 x 300 mm, 80 in 20 °C: upright Nu 62.4, h 5.8; lying 13.9, 6.5; radiation at
   0.9: 6.9 W/(m2 K); recomputed outside the project.
5. Power of a linear damper, c (X w)^2/2: 2000 N s/m, 50 mm, 1.667 Hz: 274 W (algebra).
6. Two-lump linear model: exact by the matrix exponential (any text book of linear systems).
7. Trade fact, common practice, no source: from a 30 to a 35 mm piston and a 50 to a 54 mm tube the same force needs
   less pressure, there is more oil and area, it runs cooler, and steps are finer where forces are small.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.linalg import expm
from tarn_dampers import OIL, mono, twin

from tussock.errors import DomainError
from tussock.mechanics.dampers.hydraulics import Duty, Orifice, ThermalModel, TwinTube, ValveSet, solve, warm_up
from tussock.mechanics.dampers.hydraulics.convection import (
    air,
    convection,
    nusselt_across,
    nusselt_still_lying,
    nusselt_still_upright,
    radiation,
)

pytestmark = pytest.mark.literature

AMBIENT = 303.15
MODEL = ThermalModel.of(twin(), film_coefficient=150.0)


def test_worked_example_of_a_pipe() -> None:
    """Source 2."""
    nu = nusselt_across(4.219e4, 0.7202)
    assert nu == pytest.approx(124.45, abs=0.01)
    assert nu == pytest.approx(124.0, abs=0.5)
    h = nu * 0.02808 / 0.1
    assert h == pytest.approx(34.95, abs=0.01)
    assert h * math.pi * 0.1 * 100.0 == pytest.approx(1098.0, abs=0.6)
    assert 8.0 * 0.1 / 1.896e-5 == pytest.approx(4.219e4, rel=2e-4)


def test_air() -> None:
    """Source 3: at 60 °C."""
    film = air(333.15)
    assert film.density == pytest.approx(1.0595, abs=5.1e-5)
    assert film.viscosity == pytest.approx(1.8865e-5, abs=5.1e-10)
    assert film.conductivity == pytest.approx(0.02879, abs=5.1e-6)
    assert film.prandtl == pytest.approx(0.6992, abs=5.1e-5)


@pytest.mark.parametrize(
    ("millimetres", "row"),
    [
        (45, (15.9, 22.8, 37.6, 55.9, 71.1, 84.9, 109.8)),
        (60, (13.8, 20.0, 33.2, 49.7, 63.7, 76.3, 99.5)),
        (75, (12.4, 18.0, 30.1, 45.5, 58.6, 70.6, 92.6)),
    ],
)
def test_moving_air(millimetres: int, row: tuple[float, ...]) -> None:
    """Source 3, all 21 entries to the printed digit; from 5 m/s on the still part adds nothing to it."""
    film, d = air(333.15), millimetres / 1e3
    for speed, printed in zip((1, 2, 5, 10, 15, 20, 30), row, strict=True):
        h = nusselt_across(speed * d / film.viscosity, film.prandtl) * film.conductivity / d
        assert h == pytest.approx(printed, abs=0.051)
        if speed >= 5:
            whole = convection(wall_temperature=353.15, air_temperature=313.15, air_speed=speed, diameter=d, length=0.3)
            assert whole == pytest.approx(printed, abs=0.06)


def test_still_air() -> None:
    """Source 4."""
    film = air(323.15)
    for upright, size, nu, h in ((True, 0.3, 62.4, 5.8), (False, 0.06, 13.9, 6.5)):
        rayleigh = 9.80665 * 60.0 / 323.15 * size**3 / film.viscosity**2 * film.prandtl
        function = nusselt_still_upright if upright else nusselt_still_lying
        assert function(rayleigh, film.prandtl) == pytest.approx(nu, abs=0.051)
        found = convection(
            wall_temperature=353.15, air_temperature=293.15, air_speed=0.0, diameter=0.06, length=0.3, upright=upright
        )
        assert found == pytest.approx(h, abs=0.051)
    assert radiation(wall_temperature=353.15, air_temperature=293.15, emissivity=0.9) == pytest.approx(6.9, abs=0.051)


def test_power_of_a_sine_duty() -> None:
    """Source 5: equal shares of a sine have its mean square exactly."""
    duty = Duty.sine(amplitude=0.05, frequency=1.667, air_speed=0.0, duration=1.0)
    assert float(np.sum(duty.shares * 2000.0 * duty.velocities**2)) == pytest.approx(274.0, abs=0.5)


class _Linear(ThermalModel):
    def loss(self, wall_temperature: float, *, air_temperature: float, air_speed: float) -> float:
        return 30.0 * self.area * (wall_temperature - air_temperature)


def test_warm_up_against_the_matrix_exponential() -> None:
    """Source 6: constant power and coefficient."""
    m = _Linear(oil_capacity=1200.0, wall_capacity=420.0, conductance=5.0, area=0.058, diameter=0.055, length=0.32)
    time, oil, wall = m.run(
        lambda _: 150.0, duration=1800.0, air_temperature=AMBIENT, air_speed=5.0, start=(AMBIENT, AMBIENT)
    )
    a = np.array([[-5.0 / 1200.0, 5.0 / 1200.0], [5.0 / 420.0, -(5.0 + 30.0 * 0.058) / 420.0]])
    b = np.array([150.0 / 1200.0, 0.0])
    for i in (10, 50, 100):
        rise = np.linalg.solve(a, (expm(a * time[i]) - np.eye(2)) @ b)
        np.testing.assert_allclose([oil[i] - AMBIENT, wall[i] - AMBIENT], rise, rtol=1e-6)
    steady = m.steady(lambda _: 150.0, air_temperature=AMBIENT, air_speed=5.0)
    assert steady[1] - AMBIENT == pytest.approx(150.0 / (30.0 * 0.058), rel=1e-9)
    assert steady[0] - steady[1] == pytest.approx(30.0, rel=1e-9)


def test_heat_in_is_heat_stored_and_given_off() -> None:
    time, oil, wall = MODEL.run(
        lambda _: 120.0, duration=900.0, air_temperature=AMBIENT, air_speed=8.0, start=(290.0, 295.0), points=2001
    )
    out = np.array([MODEL.loss(float(w), air_temperature=AMBIENT, air_speed=8.0) for w in wall])
    stored = MODEL.oil_capacity * (oil[-1] - oil[0]) + MODEL.wall_capacity * (wall[-1] - wall[0])
    assert stored + float(np.trapezoid(out, time)) == pytest.approx(120.0 * 900.0, rel=1e-5)


@given(power=st.floats(1.0, 100.0), speed=st.floats(0.0, 30.0))
@settings(max_examples=15, deadline=None)
def test_steady_state_balances(power: float, speed: float) -> None:
    oil, wall = MODEL.steady(lambda _: power, air_temperature=AMBIENT, air_speed=speed)
    assert MODEL.loss(wall, air_temperature=AMBIENT, air_speed=speed) == pytest.approx(power, rel=1e-6)
    assert oil > wall > AMBIENT
    cooler = MODEL.steady(lambda _: power, air_temperature=AMBIENT, air_speed=speed + 2.0)
    assert cooler[0] < oil


def test_more_oil_is_slower_but_ends_the_same() -> None:
    """Algebra: the oil's capacity sets the time, not the end."""
    slow = replace(MODEL, oil_capacity=2.0 * MODEL.oil_capacity)
    ends = [m.steady(lambda _: 100.0, air_temperature=AMBIENT, air_speed=5.0)[0] for m in (MODEL, slow)]
    assert ends[0] == pytest.approx(ends[1], abs=1e-9)
    early = [
        m.run(lambda _: 100.0, duration=300.0, air_temperature=AMBIENT, air_speed=5.0, start=(AMBIENT, AMBIENT))[1][-1]
        for m in (MODEL, slow)
    ]
    assert early[1] < early[0] - 5.0


def _same_force(*, bore: float, tube: float, oil_volume: float) -> TwinTube:
    """Sharp orifices whose areas go with the annulus^1.5, so that every size has the force of the 30 mm piston."""
    rod = 0.0127
    annulus = math.pi / 4.0 * (bore**2 - rod**2)
    first = math.pi / 4.0 * (0.030**2 - rod**2)
    hole = Orifice(area=4.5e-6 * (annulus / first) ** 1.5)
    # foot and intake see the rod only, the same in both
    foot = ValveSet(bleed=(Orifice(area=3e-6),), name="foot valve")
    return TwinTube(
        bore=bore, rod=rod, stroke=0.2, length=0.32, tube_bore=tube - 0.004, foot=foot, oil=OIL,
        piston=ValveSet(bleed=(hole,)), oil_volume=oil_volume, gas_pressure=4e6,
    )  # fmt: skip


def test_what_a_larger_piston_and_tube_buy() -> None:
    """Source 7, on the invented wagon's sizes."""
    volume = []
    for bore, tube in ((0.030, 0.050), (0.035, 0.054)):
        inside = math.pi / 4.0 * ((tube - 0.004) ** 2 - (bore + 0.003) ** 2) * 0.32
        volume.append(inside * 0.62 + math.pi / 4.0 * bore**2 * 0.29)
    small = _same_force(bore=0.030, tube=0.050, oil_volume=volume[0])
    large = _same_force(bore=0.035, tube=0.054, oil_volume=volume[1])
    speeds = np.array([-0.5, -0.1, 0.0, 0.1, 0.5])
    a, b = solve(small, velocities=speeds), solve(large, velocities=speeds)
    np.testing.assert_allclose(a.hydraulic_force, b.hydraulic_force, rtol=1e-9)
    # the same charge keeps cavitation further away
    assert b.margin[-1] > a.margin[-1] > 0.0
    # working pressure falls with the annulus
    piston = [r.rebound_pressure[0] - r.compression_pressure[0] for r in (a, b)]
    assert piston[1] / piston[0] == pytest.approx(small.annulus_area / large.annulus_area, rel=1e-9)
    assert b.working_pressure[0] < 0.75 * a.working_pressure[0]
    assert large.oil_volume > 1.05 * small.oil_volume
    assert large.outer_area > small.outer_area
    drive = [Duty.sine(amplitude=0.011, frequency=5.0, air_speed=6.0, duration=900.0, name="corrugations")]
    runs = [warm_up(d, duties=drive, air_temperature=AMBIENT, film_coefficient=150.0) for d in (small, large)]
    assert runs[1].hottest < runs[0].hottest - 2.0
    assert runs[0].steady is not None
    assert runs[1].steady is not None
    assert runs[1].steady[0] < runs[0].steady[0]

    # one more 0.2 mm2 of bleed changes the larger piston's force by less
    def step(d: TwinTube) -> float:
        hole = d.piston.bleed[0]
        more = replace(d, piston=ValveSet(bleed=(replace(hole, area=hole.area + 0.2e-6),)))
        forces = [solve(one, velocities=np.array([-0.1, 0.0])).hydraulic_force[0] for one in (d, more)]
        return 1.0 - forces[1] / forces[0]

    assert 0.0 < step(large) < 0.9 * step(small)


def test_drive_over_two_stretches() -> None:
    """Heats on corrugations, cools on the smooth road after; the force fades and comes back; gas force follows."""
    rough = Duty.sine(amplitude=0.02, frequency=4.0, air_speed=5.0, duration=600.0, name="corrugations")
    smooth = Duty.sine(amplitude=0.004, frequency=1.5, air_speed=20.0, duration=900.0, name="smooth road")
    drive = warm_up(twin(), duties=[rough, smooth], air_temperature=AMBIENT, film_coefficient=150.0)
    n = drive.time.size // 2
    assert drive.stretch[0] == "corrugations"
    assert drive.stretch[-1] == "smooth road"
    assert drive.oil_temperature[n - 1] > AMBIENT + 40.0
    assert drive.oil_temperature[-1] < drive.oil_temperature[n - 1] - 20.0
    compression, rebound = drive.fade
    assert np.all(compression[:, n - 1] > 0.0)
    assert np.all(rebound[:, n - 1] > rebound[:, -1])
    assert drive.gas_force[n - 1] > drive.gas_force[0]
    assert drive.power[0] == pytest.approx(
        float(np.sum(rough.shares * solve(twin(), velocities=rough.velocities, temperature=AMBIENT).heat)), rel=1e-3
    )


def test_fade_lies_in_the_published_span() -> None:
    """A viscosity-insensitive design fades about 0.2 % per kelvin (Dixon 2007, secondary quotation only), at most
    2 %: a damper of sharp orifices and discs must stay below the sensitive span, and fade at all."""
    cold, hot = (solve(mono(), velocities=np.array([-0.3, 0.0, 0.3]), temperature=t) for t in (293.15, 393.15))
    fade = (1.0 - hot.hydraulic_force[0] / cold.hydraulic_force[0]) / 100.0
    assert 0.0 < fade < 0.02


def test_refusals() -> None:
    hot = Duty.sine(amplitude=0.05, frequency=6.0, air_speed=0.0, duration=3600.0)
    with pytest.raises(DomainError, match="passes 200 °C after"):
        warm_up(mono(), duties=[hot], air_temperature=AMBIENT, film_coefficient=150.0)
    with pytest.raises(DomainError, match="at least one stretch"):
        warm_up(mono(), duties=[], air_temperature=AMBIENT, film_coefficient=150.0)
    with pytest.raises(DomainError, match="add up to 1"):
        Duty(velocities=np.array([0.1, 0.2]), shares=np.array([0.5, 0.4]), air_speed=1.0, duration=1.0)
    with pytest.raises(DomainError, match="film coefficient"):
        ThermalModel.of(mono(), film_coefficient=0.0)
    with pytest.raises(DomainError, match="would pass"):
        MODEL.steady(lambda _: 5000.0, air_temperature=AMBIENT, air_speed=0.0)
