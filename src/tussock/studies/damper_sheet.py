"""The build sheet of the valves, and whether the workshop has the discs for a set."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any

from tussock.studies import damper_builds as inside
from tussock.studies.damper_inside import with_valves
from tussock.studies.job import Job, Setup
from tussock.studies.result import Cell, Column, Notice, Table


def stacks_table(job: Job, setup: Setup) -> Table:
    """Return the build sheet of the valves: every stack from the seat, and what holds it."""
    rows: list[tuple[Cell, ...]] = []
    for end, name, damper in with_valves(job, setup):
        for place in ("piston", "foot", "reservoir"):
            group = getattr(damper.valves, place)
            for sense in ("compression", "rebound"):
                valve = None if group is None else getattr(group, sense)
                if valve is not None:
                    rows.append((end, name, place, sense, *_valve_cells(valve)))
            for hole in () if group is None else group.bleed:
                rows.append((end, name, place, "both", f"bleed {hole.holes}", *[None] * 5))
    return Table(
        key="stacks",
        title="Build sheet of the valves",
        columns=(
            Column(key="axle", title="Axle"),
            Column(key="damper", title="Damper"),
            Column(key="place", title="On"),
            Column(key="direction", title="Opens in"),
            Column(key="discs", title="Discs from the seat, thickness x diameter in mm"),
            Column(key="height", title="Height", kind="length_fine", digits=2),
            Column(key="clamp", title="Clamp", kind="length_fine"),
            Column(key="seat", title="Seat", kind="length_fine"),
            Column(key="dish", title="Seat height", kind="length_fine", digits=2, sign=True),
            Column(key="torque", title="Nut", kind="torque"),
        ),
        rows=tuple(rows),
        note="a disc no larger than the clamp is a spacer",
    )


def _valve_cells(valve: Any) -> tuple[Cell, ...]:
    torque = None if valve.torque is None else float(valve.torque)
    if valve.plate is not None:
        plate = f"plate on a spring of {valve.plate.rate}, {valve.plate.preload} preload, {valve.plate.stop} stop"
        return (plate, None, None, float(valve.seat), None, torque)
    discs = ", ".join((f"{line.count} of " if line.count > 1 else "") + line.words for line in valve.stack)
    height = sum(line.thickness * max(line.count, 1) for line in valve.stack)
    dish = 0.0 if valve.seat_height is None else float(valve.seat_height)
    return (discs, height, float(valve.clamp), float(valve.seat), dish, torque)


def shortages(job: Job, setup: Setup) -> tuple[Notice, ...]:
    """Say which discs the workshop has too few of for one vehicle's set of the setup's dampers."""
    return short_of(job, [damper for _, _, damper in with_valves(job, setup)], setup.build)


def short_of(job: Job, dampers: Iterable[Any], build: str) -> tuple[Notice, ...]:
    """Say which discs the workshop has too few of for one vehicle's set of these dampers, one of each axle."""
    need: dict[tuple[str, str], int] = {}
    stock: dict[tuple[str, str], int] = {}
    for material, discs in job.programme.workshop.discs.items():
        stock |= {(material, line.words): line.count for line in discs.sizes if line.count}
    for damper in dampers:
        for line in _lines(damper):
            key = (inside.material_of(job, line).name, line.words)
            need[key] = need.get(key, 0) + 2 * max(line.count, 1)  # left and right
    return tuple(
        Notice(
            text=f"A set of {build} needs {count} discs of {words} mm in {material.replace('_', ' ')}; "
            f"{stock[material, words]} are in stock",
            remedy="order them, or take another size",
        )
        for (material, words), count in need.items()
        if stock.get((material, words), count) < count
    )


def _lines(damper: Any) -> Iterator[Any]:
    for group in (damper.valves.piston, damper.valves.foot, damper.valves.reservoir):
        for valve in () if group is None else (group.compression, group.rebound):
            if valve is not None and valve.stack is not None:
                yield from valve.stack
