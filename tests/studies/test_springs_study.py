"""Springs of the invented Tarn: what the study says is what the mechanics compute, and what it proposes survives."""

from __future__ import annotations

import math
import re
import shutil
from importlib.resources import as_file, files
from pathlib import Path
from typing import Any

import pytest
from vary_programme import Vary, without_drives

from tussock.errors import InputError
from tussock.mechanics.springs import spectrum_life
from tussock.record import load, with_fields
from tussock.studies import model, parts, spring_work, springs, stop_library
from tussock.studies.job import Job, Setup, open_job

SHORT = [
    {
        "name": "gravel",
        "speed": "50 km/h",
        "length": "100 m",
        "surface": {"class": "D"},
        "features": [{"kind": "bump", "at": "50 m", "length": "0.8 m", "height": "80 mm"}],
    }
]

#: What a coil is wound from changes nothing of these: the drive need not be computed again.
MOVES = ("loop", "vehicle", "rest", "axle", "map", "travel", "ride", "tracks", "joints")


@pytest.fixture(scope="module")
def short(vary: Vary) -> Job:
    return vary({"road_loop.sections": SHORT})


@pytest.fixture(scope="module")
def works(short: Job) -> dict[str, spring_work.SpringWork]:
    return {w.name: w for w in spring_work.spring_works(short, "B3")}


def test_every_kit_spring_in_its_heaviest_fitout(works: dict[str, spring_work.SpringWork]) -> None:
    assert {n: (w.end, w.fitout) for n, w in works.items()} == {
        "front_standard": ("front", "bare"),
        "front_winch": ("front", "rescue"),
        "rear_main": ("rear", "rescue"),
    }


def test_lengths_and_load_are_those_of_the_vehicle_at_rest(
    short: Job, works: dict[str, spring_work.SpringWork]
) -> None:
    """Packers come off: the spring is shorter than the distance between its seats by what is packed under it."""
    setup = Setup("rescue", "B3")
    winch = works["front_winch"]
    seats = model.posture(short, setup)["front"].spring_length
    assert winch.packer == pytest.approx(0.010)
    assert winch.ride == pytest.approx(seats - 0.010)
    # the load on the spring, through its motion ratio, is the sprung corner less what gas and bushes carry
    ratio = abs(model.spring_ratio(short, setup, "front"))
    assert winch.load * ratio == pytest.approx(parts.static_corner_load(short, "rescue", "front"), rel=0.08)
    assert winch.bump < winch.ride < winch.droop


def test_wanted_length_is_that_at_the_target_height(short: Job, vary: Vary) -> None:
    """A spring cut to carry its load at the wanted length brings the vehicle to its target."""
    winch = next(w for w in spring_work.spring_works(short, "B3") if w.name == "rear_main")
    free = winch.wanted_length + winch.load / winch.rate
    changed = vary({"kit.springs.rear_main.free_length": f"{1e3 * free} mm"})
    lift = model.posture(changed, Setup("rescue", "B3"))["rear"].lift
    assert lift == pytest.approx(float(changed.programme.targets.lift["rescue"].rear), abs=1e-3)


def test_strokes_are_as_deep_as_the_drive_was(short: Job, works: dict[str, spring_work.SpringWork]) -> None:
    from tussock.studies.loop import drive_loop

    work = works["front_standard"]
    run = drive_loop(short, Setup("bare", "B3"))[0]
    counted = spring_work.strokes(short, work, "B3")
    shortest = min(float(run.spring_turns[i].min()) for i in (0, 1))
    assert min(c.low for c in counted) == pytest.approx(shortest - work.packer)
    assert all(c.low < c.high for c in counted)
    coil = work.coil
    assert coil is not None
    life = spring_work.loop_life(short, work, "B3")
    assert life is not None
    assert life.damage == pytest.approx(spectrum_life(coil, counted).damage)


def test_strokes_lie_about_the_ride_height_of_a_coil_over() -> None:
    """Regression: a coil-over's seats on the damper were left in its strokes, so that it seemed loose on every one."""
    with as_file(files("tussock").joinpath("data/dunnock")) as folder:
        loaded = load(folder / "programme.yaml")
    dunnock = Job(with_fields(loaded, without_drives({"road_loop.sections": SHORT})))
    setup = dunnock.setup()
    found = {w.name: w for w in spring_work.spring_works(dunnock, setup.build)}
    work = found["front_main"]
    counted = spring_work.strokes(dunnock, work, setup.build)
    assert min(c.low for c in counted) < work.ride < max(c.high for c in counted)
    life = spring_work.loop_life(dunnock, work, setup.build)
    assert life is not None
    assert life.hardest.upper > 200e6
    # leaf springs stand in the same study: their arch falls from droop over ride to bump
    leaf = found["rear_main"]
    assert leaf.kind == "leaf"
    assert leaf.droop > leaf.ride > leaf.bump
    result = springs.study(dunnock)
    assert {row[0] for row in result.table("leaves_and_bars").rows} == {"rear_main", "rear_heavy"}


def test_the_study_passes_and_says_so_with_figures(short: Job) -> None:
    result = springs.study(short)
    assert result.passes
    assert result.answer.startswith("All 3 kit springs survive")
    table = result.table("stresses")
    keys = [c.key for c in table.columns]
    for row in table.rows:
        cells = dict(zip(keys, row, strict=True))
        assert cells["ride"] < cells["bump"] < cells["solid"] < cells["permitted"]
        assert cells["reserve"] >= 1.0
    lengths = result.table("lengths")
    over_hop = [row[-1] for row in lengths.rows]
    assert all(2.0 < float(x) < 10.0 for x in over_hop)  # type: ignore[arg-type]


def test_what_is_proposed_survives_when_it_is_built(short: Job, vary: Vary) -> None:
    """The first proposal, written into the programme, stands at the target height and passes every check."""
    work = next(w for w in spring_work.spring_works(short, "B3") if w.name == "rear_main")
    best = springs.proposed(short, work, "B3")[0]
    assert best.fits
    coil = best.spring
    built = vary(
        {
            "road_loop.sections": SHORT,
            "kit.springs.rear_main.wire": f"{1e3 * coil.wire} mm",
            "kit.springs.rear_main.mean_diameter": f"{1e3 * coil.mean_diameter} mm",
            "kit.springs.rear_main.active_coils": str(coil.active_coils),
            "kit.springs.rear_main.rate": f"{coil.rate} N/m",
            "kit.springs.rear_main.free_length": f"{1e3 * coil.free_length} mm",
        }
    )
    result = springs.study(built)
    assert result.passes, result.notices
    after = next(w for w in spring_work.spring_works(built, "B3") if w.name == "rear_main")
    assert after.ride == pytest.approx(work.wanted_length, abs=1.5e-3)


FAILURES = {
    "thin wire": (
        {
            "kit.springs.rear_main.wire": "14 mm",
            "kit.springs.rear_main.mean_diameter": "115 mm",
            "kit.springs.rear_main.active_coils": "8.25",
        },
        r"pressed solid it is stressed to \d+ % of what is permitted",
    ),
    "too many coils": (
        {"kit.springs.rear_main.wire": "18 mm", "kit.springs.rear_main.active_coils": "14.9"},
        r"solid at \d+ mm before full bump|below its smallest permissible length",
    ),
    "wrong rate": ({"kit.springs.rear_main.active_coils": "10.5"}, r"its wire gives 26\.\d N/mm, specified are 30"),
    "slim": (
        {
            "kit.springs.rear_main.wire": "11 mm",
            "kit.springs.rear_main.mean_diameter": "62 mm",
            "kit.springs.rear_main.active_coils": "20",
        },
        "buckles between its seats|solid at",
    ),
}


@pytest.mark.parametrize("case", FAILURES)
def test_what_fails_is_said_with_its_remedy(case: str, short: Job, vary: Vary) -> None:
    changes, said = FAILURES[case]
    job = vary({"road_loop.sections": SHORT, **changes})
    job.memo.update({k: v for k, v in short.memo.items() if k[0] in MOVES})
    result = springs.study(job)
    assert not result.passes
    found = [n for n in result.notices if re.search(said, n.text)]
    assert found, [n.text for n in result.notices]
    assert all(n.remedy for n in found)
    assert "rear coil" in result.answer
    assert result.answer.startswith("2 of 3 kit springs survive")


def test_a_spring_without_dimensions_is_not_judged(short: Job, vary: Vary) -> None:
    job = vary(
        {
            "road_loop.sections": SHORT,
            **{f"kit.springs.rear_main.{k}": None for k in ("wire", "mean_diameter", "active_coils")},
            "kit.coiling": None,
        }
    )
    job.memo.update({k: v for k, v in short.memo.items() if k[0] in MOVES})
    result = springs.study(job)
    assert result.passes
    assert any("nothing is known of its stress" in n.text for n in result.notices)
    assert any("none are proposed" in n.text for n in result.notices)
    assert "proposals" not in {t.key for t in result.tables}
    assert "rear_main" not in {row[0] for row in result.table("stresses").rows}


def test_the_drawing_holds_what_the_coil_is(short: Job, works: dict[str, spring_work.SpringWork]) -> None:
    table = springs.study(short).table("drawing")
    keys = [c.key for c in table.columns]
    for row in table.rows:
        cells: dict[str, Any] = dict(zip(keys, row, strict=True))
        work = works[str(cells["spring"])]
        coil = work.coil
        assert coil is not None
        assert cells["outside"] - cells["inside"] == pytest.approx(2.0 * coil.wire)
        assert cells["load"] == pytest.approx(work.rate * (work.free_length - work.ride))
        # the bar's volume is the wire's, its mass 7.85 kg/dm3; the helix makes it a little longer than the mass says
        volume = cells["bar"] * math.pi * coil.wire**2 / 4.0
        assert 1.0 < volume * 7850.0 / cells["mass"] < 1.02
    said = {row[0]: row[keys.index("agreed")] for row in table.rows}
    assert said == {"front_standard": "ordered", "front_winch": "to agree", "rear_main": "to agree"}


def test_one_fitout_alone(short: Job) -> None:
    result = springs.study(short, fitout="winch")
    assert {row[1] for row in result.table("stresses").rows} == {"winch"}
    assert {row[0] for row in result.table("stresses").rows} == {"front_winch", "rear_main"}


def test_the_stop_library_is_read_and_stacks(short: Job) -> None:
    library = stop_library.stop_library()
    assert len(library) >= 4
    both = stop_library.stack("short_foam", "solid_rubber", spacer=0.01)
    assert both.height == pytest.approx(0.120)
    for name in ("short_foam", "solid_rubber"):
        assert library[name].stop.compression_at(3000.0) < both.compression_at(3000.0)
    with pytest.raises(InputError, match="there is no bump stop 'cork'; there are short_foam"):
        stop_library.stack("cork")
    with pytest.raises(InputError, match="there is no bump stop"):
        stop_library.stack()
    rows = springs.study(short).table("stops").rows
    assert {row[1] for row in rows} == {"fitted", *library}
    for row in rows:
        assert row[4] is None or (0.0 < float(row[4]) < float(row[3]))  # type: ignore[arg-type]


def test_a_kit_may_replace_the_stop_by_a_stack(job: Job, vary: Vary) -> None:
    own = {"free_height": "30 mm", "curve": ["0 mm: 0 N", "5 mm: 900 N", "10 mm: 4000 N", "13 mm: 12000 N"]}
    changed = vary({"kit.stops": {"pad": own}, "kit.stop_stacks": {"front": ["short_foam", "pad"], "rear": []}})
    fitted = parts.bump_stop(changed, Setup("bare", "B3"), "front")
    spacer = float(changed.programme.kit.stop_spacers.front)
    assert fitted.height == pytest.approx(0.050 + 0.030 + spacer)
    foam = stop_library.stop_library()["short_foam"].stop
    assert fitted.compression_at(900.0) == pytest.approx(foam.compression_at(900.0) + 5e-3, abs=5e-5)
    # stock keeps its own, and so does the axle that has no stack
    assert parts.bump_stop(changed, Setup("bare", "stock"), "front").height == pytest.approx(
        parts.bump_stop(job, Setup("bare", "stock"), "front").height
    )
    assert parts.bump_stop(changed, Setup("bare", "B3"), "rear").height == pytest.approx(
        parts.bump_stop(job, Setup("bare", "B3"), "rear").height
    )


def test_a_stop_that_is_nowhere_is_said_when_the_programme_is_opened(tmp_path: Path) -> None:
    with as_file(files("tussock").joinpath("data/tarn")) as folder:
        shutil.copytree(folder, tmp_path / "tarn")
    path = tmp_path / "tarn" / "programme.yaml"
    text = path.read_text(encoding="utf-8")
    path.write_text(
        text.replace("  stop_spacers:", "  stop_stacks: {front: [cork], rear: []}\n  stop_spacers:"), "utf-8"
    )
    with pytest.raises(InputError, match="there is no bump stop 'cork'"):
        open_job(path)


def test_side_load_shifts_the_force_line_by_its_moment(works: dict[str, spring_work.SpringWork]) -> None:
    for work in works.values():
        load = spring_work.sideways(work, "ride")
        assert load is not None
        assert load.offset == work.ride_offset
        moment = 0.5 * abs(load.force * work.ride + work.coil.force(work.ride) * load.offset)  # type: ignore[union-attr]
        assert load.line_shift == pytest.approx(moment / work.coil.force(work.ride))  # type: ignore[union-attr]
        assert math.isfinite(load.stress)
