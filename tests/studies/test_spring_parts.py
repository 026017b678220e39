"""Leaf springs and torsion bars of the record: stress in each part, checked against beam and bar by hand.

Source: beam formula sigma = P L t / (8 sum I) of a semi-elliptic spring and tau = 16 T / (pi d^3) of a round bar (any
strength-of-materials text); the springs are invented.
"""

from __future__ import annotations

import math
from typing import Any

import pytest

from tussock.errors import InputError
from tussock.record.springs import LeafSpring, TorsionBarSpring
from tussock.studies.spring_parts import PROOF, PROOF_SHEAR, leaf_pack, part_notices, part_stresses, part_table
from tussock.studies.spring_work import SpringWork

LEAF: dict[str, Any] = {
    "kind": "leaf",
    "title": "rear leaf spring",
    "rate": "28 N/mm",
    "free_arch": "150 mm",
    "second_rate": "60 N/mm",
    "second_at": "80 mm",
    "second_over": "20 mm",
    "friction": "250 N",
    "width": "60 mm",
    "leaves": [
        {"thickness": "7 mm", "length": "1240 mm"},
        {"thickness": "7 mm", "length": "1240 mm"},
        {"thickness": "7 mm", "length": "900 mm"},
        {"thickness": "11 mm", "length": "760 mm", "stage": "helper"},
    ],
}
BAR: dict[str, Any] = {
    "kind": "torsion_bar",
    "title": "front bar",
    "diameter": "26 mm",
    "length": "1100 mm",
    "free_angle": "32 deg",
}


def _work(kind: str, *, ride: float, bump: float, rate: float) -> SpringWork:
    return SpringWork(
        name="spring",
        title="rear leaf spring" if kind == "leaf" else "front bar",
        end="rear",
        fitout="load",
        kind=kind,
        rate=rate,
        rate_spread=0.0,
        free_length=0.15,
        packer=0.0,
        seats=0.0,
        ride=ride,
        bump=bump,
        droop=0.15,
        load=1.0,
        wanted_length=ride,
        bump_by="bump stop",
        droop_by="damper open",
        ride_offset=0.0,
        bump_offset=0.0,
        wheel_hop=10.0,
        coil=None,
    )


def test_leaves_share_the_measured_load_by_their_thickness() -> None:
    """At 60 mm from free the main leaves carry alone; at 130 mm the helper has 32 N/mm over 50 mm less half of 20."""
    found = part_stresses("spring", LeafSpring.model_validate(LEAF), ride=0.09, bump=0.02)
    assert [p.part for p in found] == [
        "main leaf 1, 7.0 mm",
        "main leaf 2, 7.0 mm",
        "main leaf 3, 7.0 mm",
        "helper leaf 1, 11.0 mm",
    ]
    main_inertia, helper_inertia = 3 * 0.06 * 0.007**3 / 12, 0.06 * 0.011**3 / 12
    assert found[0].ride == pytest.approx(28e3 * 0.06 * 1.24 * 0.007 / (8 * main_inertia), rel=1e-9)
    assert found[3].ride == 0.0
    assert found[0].bump == pytest.approx(28e3 * 0.13 * 1.24 * 0.007 / (8 * main_inertia), rel=1e-9)
    helped = 32e3 * (0.05 - 0.01)
    assert found[3].bump == pytest.approx(helped * 0.76 * 0.011 / (8 * helper_inertia), rel=1e-9)
    assert {p.proof for p in found} == {PROOF}


def test_the_pack_is_the_mechanics_own() -> None:
    pack = leaf_pack(LeafSpring.model_validate(LEAF))
    assert (pack.main.full_length, len(pack.main.thicknesses)) == (2, 3)
    assert pack.helper is not None
    assert pack.contact == pytest.approx(0.08)
    assert pack.friction == pytest.approx(250.0)
    with pytest.raises(InputError, match="no leaf of the main stage"):
        leaf_pack(LeafSpring.model_validate({**LEAF, "leaves": [LEAF["leaves"][3]]}))


def test_a_torsion_bar_twists_by_what_its_arm_rises() -> None:
    """Length of the law: how far the arm hangs below kerb, so the bar is twisted by free angle less that [rad]."""
    free = math.radians(32.0)
    found = part_stresses("spring", TorsionBarSpring.model_validate(BAR), ride=0.0, bump=-math.radians(18.0))
    torsional = math.pi * 77e9 * 0.026**4 / (32 * 1.1)
    for stress, twist in ((found[0].ride, free), (found[0].bump, math.radians(50.0))):
        assert stress == pytest.approx(16 * torsional * twist / (math.pi * 0.026**3), rel=1e-9)
    assert found[0].proof == PROOF_SHEAR


def test_what_sets_is_said_and_what_is_not_known_too() -> None:
    records = {"spring": LeafSpring.model_validate(LEAF)}
    safe = _work("leaf", ride=0.09, bump=0.05, rate=28e3)
    failures, remarks = part_notices(records, [safe])
    assert failures == []
    assert any("no published fatigue data" in n.text for n in remarks)
    deep = _work("leaf", ride=0.05, bump=-0.08, rate=28e3)
    failures, _ = part_notices(records, [deep])
    assert len(failures) == 1
    assert failures[0].text.startswith("Rear leaf spring: at full bump the main leaf 1")
    thick = {"spring": LeafSpring.model_validate({**LEAF, "rate": "40 N/mm"})}
    _, remarks = part_notices(thick, [_work("leaf", ride=0.09, bump=0.05, rate=40e3)])
    assert any("by their dimensions, measured were 40.0 N/mm" in n.text for n in remarks)
    table = part_table(part_stresses("spring", records["spring"], ride=0.05, bump=-0.08))
    assert table.strong
    twisted, _ = part_notices(
        {"spring": TorsionBarSpring.model_validate(BAR)}, [_work("torsion_bar", ride=0.0, bump=-1.0, rate=3.1e3)]
    )
    assert "bar 26 mm" in twisted[0].text
