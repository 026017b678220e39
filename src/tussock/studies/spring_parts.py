"""Leaf springs and torsion bars of the record as parts with stresses: every leaf, or the bar."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from tussock.errors import InputError
from tussock.mechanics.springs import GRADES, LeafPack, LeafSpring, TorsionBar
from tussock.studies.display import show
from tussock.studies.result import Cell, Column, Notice, Table
from tussock.studies.shaped_coils import PartStress, shape_remarks, turn_stress
from tussock.studies.spring_laws import SpringLaw, spring_law
from tussock.studies.spring_work import SpringWork

#: Least 0.2 % proof stress of 51CrV4, quenched and tempered (EN 10089, from memory) [Pa]; in shear by von Mises.
PROOF = GRADES["51CrV4"].proof
PROOF_SHEAR = PROOF / 3.0**0.5
RATE_ALLOWED = 0.15  # leaves' rate from their dimensions against the measured one [-]: common practice, no source
_REMEDIES = {
    "leaf": "more or thinner leaves, a taller bump stop, or an earlier helper",
    "torsion_bar": "a longer or thinner bar, or less travel",
    "shaped": "thicker wire there, or a pitch that closes the turn earlier",
}
_REACHES_EYES = 0.97  # a leaf at least this share of the main one's length reaches the eyes [-]


def leaf_pack(record: Any) -> LeafPack:
    """Return the pack of a leaf spring of the record from its dimensions, both halves taken as equal.

    Raises
    ------
    InputError
        A pack without a main leaf.
    """
    main = _stage(record, "main")
    if main is None:
        raise InputError(f"{record.title}: no leaf of the main stage; the one with the eyes is one")
    helper = _stage(record, "helper")
    return LeafPack(
        main=main,
        free_height=float(record.free_arch),
        helper=helper,
        contact=float(record.second_at) if helper is not None and record.second_at is not None else 0.0,
        blend=float(record.second_over) if helper is not None else 0.0,
        friction=float(record.friction),
    )


def _stage(record: Any, stage: str) -> LeafSpring | None:
    leaves = [leaf for leaf in record.leaves if leaf.stage == stage]
    if not leaves:
        return None
    longest = max(float(leaf.length) for leaf in leaves)
    leaves.sort(key=lambda leaf: -float(leaf.length))
    return LeafSpring(
        thicknesses=tuple(float(leaf.thickness) for leaf in leaves),
        width=float(record.width),
        front_length=0.5 * longest,
        rear_length=0.5 * longest,
        full_length=sum(float(leaf.length) >= _REACHES_EYES * longest for leaf in leaves),
        clamp_length=float(record.clamp_length),
    )


def part_stresses(name: str, record: Any, *, ride: float, bump: float) -> tuple[PartStress, ...]:
    """Return the stress in every leaf, or in a torsion bar, at two lengths as the spring's law counts them.

    The loads are those of the measured rates; what each leaf bears of them follows from its thickness.
    """
    law = spring_law(record)
    if law.kind == "torsion_bar":
        bar = TorsionBar(
            diameter=float(record.diameter),
            length=float(record.length),
            inner_diameter=float(record.inner_diameter) if record.inner_diameter is not None else 0.0,
        )
        at = [abs(bar.shear_stress(float(law.force(length)))) for length in (ride, bump)]
        return (PartStress(spring=name, part=f"bar {record.diameter}", ride=at[0], bump=at[1], proof=PROOF_SHEAR),)
    if law.shaped is not None:
        return (turn_stress(name, law, ride=ride, bump=bump),)
    if law.kind != "leaf":
        return ()
    pack = leaf_pack(record)
    out: list[PartStress] = []
    for stage, leaves in (("main", pack.main), ("helper", pack.helper)):
        if leaves is None:
            continue
        at_ride, at_bump = (leaves.stresses(_carried(law, stage, length)) for length in (ride, bump))
        out += [
            PartStress(
                spring=name,
                part=f"{stage} leaf {i}, {show(t, 'length_fine')}",
                ride=float(at_ride[i - 1]),
                bump=float(at_bump[i - 1]),
                proof=PROOF,
            )
            for i, t in enumerate(leaves.thicknesses, start=1)
        ]
    return tuple(out)


def _carried(law: SpringLaw, stage: str, length: float) -> float:
    """Return the load that a stage carries at a length [N]."""
    total = float(law.force(length))
    if law.stages is None:
        return total if stage == "main" else 0.0
    main = float(np.maximum(law.free_length - length, 0.0)) * law.stages.main_rate
    return main if stage == "main" else max(total - main, 0.0)


def parts_of(records: Mapping[str, Any], works: Sequence[SpringWork]) -> tuple[PartStress, ...]:
    """Return the parts of every leaf spring and torsion bar."""
    return tuple(
        p for w in works if w.kind != "coil" for p in part_stresses(w.name, records[w.name], ride=w.ride, bump=w.bump)
    )


def part_notices(records: Mapping[str, Any], works: Sequence[SpringWork]) -> tuple[list[Notice], list[Notice]]:
    """Return what fails, and what is to be looked at, of leaf springs and torsion bars."""
    failures: list[Notice] = []
    remarks: list[Notice] = []
    for w in (w for w in works if w.kind != "coil"):
        named = w.title[:1].upper() + w.title[1:]
        parts = part_stresses(w.name, records[w.name], ride=w.ride, bump=w.bump)
        worst = max(parts, key=lambda p: p.bump / p.proof)
        if worst.bump > worst.proof:
            failures.append(
                Notice(
                    text=f"{named}: at full bump the {worst.part} reaches {show(worst.bump, 'stress')}, its proof "
                    f"stress is {show(worst.proof, 'stress')}, so it sets",
                    remedy=_REMEDIES[w.kind],
                )
            )
        law = spring_law(records[w.name])
        if law.shaped is not None:
            remarks += shape_remarks(named, w, law)
        if w.kind == "leaf":
            rate = leaf_pack(records[w.name]).main.rate
            if abs(rate / w.rate - 1.0) > RATE_ALLOWED:
                remarks.append(
                    Notice(
                        text=f"{named}: its main leaves give {show(rate, 'rate')} by their dimensions, measured were "
                        f"{show(w.rate, 'rate')}",
                        remedy="measure thickness, width and clamped length again; the stresses hang on them",
                    )
                )
        remarks.append(
            Notice(
                text=f"{named}: no published fatigue data for it were at hand, so only its proof stress is checked",
                remedy="test it on a pulser before release",
            )
        )
    return failures, remarks


def part_table(parts: Sequence[PartStress]) -> Table:
    """Return the stresses of leaves and bars as a table."""
    rows: tuple[tuple[Cell, ...], ...] = tuple(
        (p.spring, p.part, p.ride, p.bump, p.proof, p.proof / p.bump if p.bump > 0.0 else None) for p in parts
    )
    return Table(
        key="leaves_and_bars",
        title="Springs that are no plain coils: stress in every leaf and bar, and in the turn worked hardest",
        columns=(
            Column(key="spring", title="Spring"),
            Column(key="part", title="Part"),
            Column(key="ride", title="At ride", kind="stress"),
            Column(key="bump", title="At full bump", kind="stress"),
            Column(key="proof", title="Proof stress", kind="stress"),
            Column(key="safety", title="Safety", kind="ratio"),
        ),
        rows=rows,
        strong=tuple(i for i, p in enumerate(parts) if p.bump > p.proof),
        note="bending at the clamp, shear in bars and coils; both halves of a leaf spring taken as equal, stress from "
        "nip and presetting left out; proof stress of 51CrV4, quenched and tempered, from memory, in shear by von "
        "Mises; of a coil what EN 13906-1 permits at solid, hot coiled",
    )
