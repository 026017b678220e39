"""Anti-roll bars against a worked case, an independent integration and a published vehicle.

Sources
1. Worked case (d 25, arm 250, length 1000, bushes 700 apart) by Castigliano, by hand for this project.
2. A published load-transfer calculation of a passenger car (public page): axle roll stiffness 1027 and 1004 N m/deg,
   roll stiffness 49.4 % at the rear, from torsion bars of stated length and ratio; recomputed 1027.9 and 1004.4.
3. Gere, Mechanics of Materials, ch. 3: torsion of a round bar.
"""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from scipy.integrate import quad

from tussock.errors import DomainError
from tussock.mechanics.springs import AntiRollBar

pytestmark = pytest.mark.literature

BAR = AntiRollBar(diameter=25e-3, arm=0.25, length=1.0, bush_spacing=0.7)


def test_worked_case() -> None:
    """Source 1, to the figures printed."""
    assert BAR.end_rate / 1e3 == pytest.approx(79.72, abs=5e-3)
    shares = {k: v * 1e3 for k, v in BAR.compliance.items()}  # mm/N
    assert shares["arms"] == pytest.approx(1.3186e-3, abs=5e-8)
    assert shares["torsion"] == pytest.approx(1.02758e-2, abs=5e-8)
    assert shares["overhang"] == pytest.approx(2.848e-4, abs=5e-8)
    assert shares["span"] == pytest.approx(6.646e-4, abs=5e-8)


def test_against_integrated_strain_energy() -> None:
    """Independent: bending moments and torque by statics, energy by quadrature, deflection = 2 U / P over both ends."""
    load, arm, length, spacing = 1000.0, 0.25, 1.0, 0.7
    bending = 206e9 * math.pi * 25e-3**4 / 64.0
    torsion = 79.3e9 * math.pi * 25e-3**4 / 32.0
    reaction = load * length / spacing  # a couple at the bushes holds the couple of the ends

    def moment(x: float) -> float:  # from the left end of the straight part
        m = load * x
        if x > (length - spacing) / 2.0:
            m -= reaction * (x - (length - spacing) / 2.0)
        if x > (length + spacing) / 2.0:
            m += reaction * (x - (length + spacing) / 2.0)
        return m

    edges = [(length - spacing) / 2.0, (length + spacing) / 2.0]
    straight, _ = quad(lambda x: moment(x) ** 2 / (2.0 * bending), 0.0, length, points=edges)
    arms, _ = quad(lambda s: (load * s) ** 2 / (2.0 * bending), 0.0, arm)
    energy = straight + 2.0 * arms + (load * arm) ** 2 * length / (2.0 * torsion)
    # both ends move by f against the load: the work is 2 (P f / 2)
    assert load / (energy / load) == pytest.approx(BAR.end_rate, rel=1e-9)


def test_published_vehicle() -> None:
    """Source 2: springs and torsion of the bars make 1027 and 1004 N m/deg."""
    found = []
    for spring, ratio, track, diameter, length, twist in (
        (48.9e3, 0.92, 1.482, 23e-3, 1.008, 0.096),
        (80.2e3, 0.59, 1.481, 19e-3, 1.026, 0.201),
    ):
        per_metre = math.radians(twist) * 1e3  # twist of the bar for a metre of one wheel's travel
        bar = AntiRollBar(
            diameter=diameter,
            arm=1.0 / per_metre,
            length=length,
            bush_spacing=length,
            shear_modulus=80e9,
            elastic_modulus=1e30,  # the source counts torsion only
        )
        springs = 0.5 * spring * ratio**2 * track**2
        found.append((springs + bar.roll_rate(link_spacing=track)) * math.pi / 180.0)
    assert found[0] == pytest.approx(1027.0, rel=1.5e-3)
    assert found[1] == pytest.approx(1004.0, rel=1e-3)
    assert found == pytest.approx([1027.9, 1004.4], abs=0.06)
    assert found[1] / sum(found) == pytest.approx(0.494, abs=5e-4)


def test_torsion_alone() -> None:
    """Source 3: with stiff arms the bar is a torsion bar, k = G J / (L arm^2) against a held end, twice that here."""
    stiff = replace(BAR, elastic_modulus=1e30)
    polar = math.pi * 25e-3**4 / 32.0
    assert stiff.end_rate == pytest.approx(2.0 * 79.3e9 * polar / (1.0 * 0.25**2), rel=1e-12)
    twist = 2.0 * 0.01 / 0.25  # both ends move 10 mm
    assert stiff.shear_stress(0.01) == pytest.approx(79.3e9 * twist * 12.5e-3 / 1.0, rel=1e-12)


def test_limits() -> None:
    """A tube is softer than its bar; a wider link spacing and a larger motion ratio stiffen quadratically."""
    tube = replace(BAR, inner_diameter=15e-3)
    assert tube.end_rate / BAR.end_rate == pytest.approx(1.0 - (15.0 / 25.0) ** 4, rel=1e-12)
    assert BAR.roll_rate(link_spacing=0.8) == pytest.approx(0.5 * BAR.end_rate * 0.64)
    assert BAR.roll_rate(link_spacing=0.8, motion_ratio=0.5) == pytest.approx(BAR.roll_rate(link_spacing=0.4))


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"diameter": 0.0}, "diameter is 0"),
        ({"inner_diameter": 26e-3}, "inner diameter must be below"),
        ({"bush_spacing": 1.1}, "bushes 1100 mm apart on a bar of 1000 mm"),
        ({"shear_modulus": -1.0}, "shear_modulus is -1"),
    ],
)
def test_impossible_bars_are_refused(change: dict[str, float], said: str) -> None:
    with pytest.raises(DomainError, match=said):
        replace(BAR, **change)
    with pytest.raises(DomainError, match="must stand apart"):
        BAR.roll_rate(link_spacing=0.0)
