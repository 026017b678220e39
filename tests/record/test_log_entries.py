"""The log: entries added without touching a byte, corrections laid over them, and what is refused. All invented."""

from __future__ import annotations

import difflib
import json
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tussock.errors import InputError
from tussock.record import Loaded, ProgrammeError, load, loads, save
from tussock.record.append import next_name, with_entry
from tussock.record.keep import keep_file
from tussock.record.log import VERDICTS
from tussock.record.scales import SCALES

DRIVE: dict[str, Any] = {"date": "2026-10-01", "driver": "service", "build": "B2", "against": "B1", "fitout": "winch"}
WHO = {"date": "2026-10-02", "by": "workshop", "why": "misread"}
Entry = tuple[str, dict[str, Any]]


def added(loaded: Loaded, *entries: Entry) -> Loaded:
    for part, entry in entries:
        loaded = with_entry(loaded, part, entry)
    return loaded


def problems(tarn_text: str, *, build: dict[str, Any] | None = None, **parts: dict[str, Any]) -> list[str]:
    """Write entries into the sample by hand, one a part, and return what is wrong with it."""
    text = tarn_text
    for part, entry in parts.items():
        rows = json.dumps([{"id": {"drives": "D1", "corrections": "C1", "dyno_runs": "R1"}[part], **entry}])
        text = text.replace("drives: []", f"drives: {rows}") if part == "drives" else f"{text}{part}: {rows}\n"
    if build is not None:
        text = text.replace("\n\nroad_loop:", f"\n  B4: {json.dumps(build)}\n\nroad_loop:")
    with pytest.raises(ProgrammeError) as caught:
        loads(text)
    return [f"{p.path}: {p.wrong} | {p.example}" for p in caught.value.problems]


# ------------------------------------------------------------------------------------------------ adding


def test_every_byte_stays_where_an_entry_is_added(tarn_text: str) -> None:
    new = added(
        loads(tarn_text),
        ("builds", {"title": "rear softer", "parent": "B3", "dampers": {"rear": "rear_a"}}),
        ("drives", DRIVE),
        ("drives", {**DRIVE, "build": "B4", "note": "second: with a colon # and a sign\nand a line"}),
        ("notes", {"date": "2026-10-01", "by": "workshop", "about": "D2", "text": "ja: nein"}),
        ("decisions", {"date": "2026-10-31", "by": "workshop", "text": "stay"}),
        ("corrections", {**WHO, "corrects": "D1", "fields": {"build": "B3", "note": None}}),
    )
    lost = [x for x in difflib.ndiff(tarn_text.splitlines(), new.text.splitlines()) if x.startswith("- ")]
    assert lost == ["- drives: []"]
    assert "\ndrives:\n  - id: D1\n    date: 2026-10-01\n" in new.text
    assert new.programme.drives[1].note == "second: with a colon # and a sign\nand a line"
    assert [new.programme.drives[0].build, new.programme.written_drives[0].build] == ["B3", "B2"]
    assert list(new.programme.builds) == ["B1", "B2", "B3", "B4"]
    assert loads(new.text).programme == new.programme


@pytest.mark.parametrize(
    "old",
    [
        "drives: []",
        "drives: []  # driven",
        "drives:\n- {id: D0, date: 2026-09-30, driver: A, build: B1, fitout: bare}  # kept",
        "drives:\n    - id: D0\n      date: 2026-09-30\n      driver: A\n      build: B1\n      fitout: bare\n\n# kept",
        "drives: [{id: D0, date: 2026-09-30, driver: A, build: B1, fitout: bare}]  # kept",
        "drives:\n  - id: D0\n    date: 2026-09-30\n    driver: A\n    build: B1\n    fitout: bare\n"
        "    note: |\n      two\n      lines\n# kept",
        "",
    ],
)
def test_an_entry_fits_however_the_list_is_written(tarn_text: str, old: str) -> None:
    text = tarn_text.replace("drives: []", old)
    new = added(loads(text), ("drives", DRIVE), ("drives", DRIVE))
    assert [d.id for d in new.programme.drives][-2:] == ["D1", "D2"]
    assert new.text.count("#") == text.count("#")
    kept = [x for x in difflib.ndiff(text.splitlines(), new.text.splitlines()) if x.startswith("- ")]
    assert len(kept) <= 1


def test_lines_that_end_as_on_another_system_keep_their_ends(tarn_text: str) -> None:
    new = with_entry(loads(tarn_text.replace("\n", "\r\n")), "drives", DRIVE)
    assert new.text.count("\r\n") == new.text.count("\n")
    assert new.text.replace("\r\n", "\n") == with_entry(loads(tarn_text), "drives", DRIVE).text


def test_names_go_on_from_those_there_are(tarn_text: str) -> None:
    loaded = with_entry(loads(tarn_text), "drives", DRIVE, name="D7")
    assert [next_name(loaded, part) for part in ("drives", "builds", "corrections")] == ["D8", "B4", "C1"]
    with pytest.raises(ProgrammeError, match="never overwritten"):
        with_entry(loaded, "builds", {"title": "again", "parent": "B1"}, name="B2")


WORDS = st.text(st.characters(blacklist_categories=("Cs", "Cc"), max_codepoint=0x2FFF), min_size=1, max_size=40)


@settings(max_examples=8, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(note=WORDS, weather=WORDS, verdict=st.sampled_from(VERDICTS), mark=st.integers(1, 10))
def test_what_is_typed_is_read_back(tarn_text: str, note: str, weather: str, verdict: str, mark: int) -> None:
    entry = {**DRIVE, "note": note, "weather": weather, "verdicts": [{"section": "moor road", "verdict": verdict}],
             "ratings": [{"attribute": "pitch", "mark": mark}]}  # fmt: skip
    (drive,) = with_entry(loads(tarn_text), "drives", entry).programme.drives
    assert (drive.note, drive.weather, drive.verdicts[0].verdict) == (note, weather, verdict)
    assert drive.ratings[0].mark == mark


# ------------------------------------------------------------------------------------------------ corrections


def test_corrections_are_laid_over_what_they_correct(tarn_text: str) -> None:
    first = added(loads(tarn_text), ("drives", DRIVE), ("corrections", {**WHO, "corrects": "D1", "fields": {
        "fitout": "rescue", "against": None}}))  # fmt: skip
    (drive,) = first.programme.drives
    assert (drive.fitout, drive.against, drive.driver) == ("rescue", None, "service")
    again = added(first, ("corrections", {**WHO, "corrects": "C1", "fields": {"fitout": "bare"}}))
    (drive,) = again.programme.drives
    assert (drive.fitout, drive.against) == ("bare", None), "a corrected correction keeps what was not corrected"
    gone = added(again, ("corrections", {**WHO, "corrects": "C1", "withdrawn": True}))
    assert gone.programme.drives == gone.programme.written_drives, "a withdrawn correction counts no more"
    back = added(gone, ("corrections", {**WHO, "corrects": "C3", "withdrawn": True}))
    assert back.programme.drives == again.programme.drives, "nor does a withdrawn withdrawal"
    out = added(back, ("corrections", {**WHO, "corrects": "D1", "withdrawn": True}))
    assert out.programme.drives == ()
    assert len(out.programme.written_drives) == 1


def test_a_corrected_build_is_what_studies_wear(tarn_text: str) -> None:
    new = added(loads(tarn_text), ("corrections", {**WHO, "corrects": "B2", "fields": {"dampers": {"rear": "rear_a"}}}))
    assert new.programme.damper("B2", "rear") is new.programme.kit.dampers["rear_a"]
    assert new.programme.damper("B2", "front") is new.programme.kit.dampers["front_a"], "from its parent now"
    assert new.programme.written_builds["B2"].dampers["rear"] == "rear_b"


@pytest.mark.parametrize(
    ("correction", "said"),
    [
        ({"corrects": "D9", "fields": {"note": "x"}}, "corrections.0.corrects: there is no build or entry"),
        ({"corrects": "C1", "fields": {"note": "x"}}, "corrections.0.corrects: correction C1 can correct only what"),
        ({"corrects": "D1"}, "corrections.0: correction C1 says either which fields change or that"),
        ({"corrects": "D1", "fields": {"note": "x"}, "withdrawn": True}, "says either which fields change"),
        ({"corrects": "D1", "fields": {"id": "D2"}}, "corrections.0.fields.id: correction C1: what an entry is called"),
        ({"corrects": "D1", "fields": {"fitout": "winsh"}}, "corrections.0.fields.fitout: correction C1: there is no "),
        (
            {"corrects": "D1", "fields": {"fitut": "winch"}},
            "corrections.0.fields.fitut: correction C1: a drive has no ",
        ),
        (
            {"corrects": "D1", "fields": {"driver": None}},
            "corrections.0.fields.driver: correction C1: this field is mi",
        ),
        ({"corrects": "D1", "fields": {"tyre_pressure": {"front": "2.4", "rear": "2 bar"}}}, "2.4 bar"),
        ({"corrects": "D1", "fields": {"build": "B1"}}, "a build is not compared with itself"),
        (
            {"corrects": "D1", "date": "2026-09-01", "fields": {"note": "x"}},
            "dated before what it corrects, 2026-10-01",
        ),
        ({"corrects": "B2", "withdrawn": True}, "builds.B3.parent: there is no build of this name"),
    ],
)
def test_a_wrong_correction_is_refused(tarn_text: str, correction: dict[str, Any], said: str) -> None:
    found = problems(tarn_text, drives=DRIVE, corrections={**WHO, **correction})
    assert any(said in f for f in found), found


# ------------------------------------------------------------------------------------------------ bad input

MOOR = {"section": "moor road", "verdict": "slightly better"}


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"against": "B2"}, "drives.0.against: drive D1: a build is not compared with itself"),
        ({"build": "B9"}, "drives.0.build: drive D1: there is no build of this name"),
        ({"section": "moor rod"}, "drives.0.section: drive D1: there is no section of the road loop"),
        ({"verdicts": [MOOR, {**MOOR, "verdict": "much worse"}]}, "drive D1 contradicts itself: overall on moor road"),
        ({"verdicts": [MOOR, {**MOOR, "verdict": "same"}]}, "contradicts itself"),
        ({"verdicts": [MOOR, {**MOOR, "verdict": "much better"}]}, "drive D1 says overall on moor road twice"),
        ({"section": "moor road", "verdicts": [MOOR, {"verdict": "same"}]}, "contradicts itself"),
        ({"section": "potholes", "verdicts": [MOOR]}, "was driven on 'potholes' alone"),
        ({"against": None, "verdicts": [MOOR]}, "say which"),
        (
            {"ratings": [{"attribute": "pitch", "mark": 4}, {"attribute": "pitch", "mark": 7}]},
            "says pitch on the whole",
        ),
        ({"ratings": [{"attribute": "pitch", "mark": 0}]}, "drive D1: a mark is a whole number from 1 (worst) to 10"),
        ({"ratings": [{"attribute": "pitch", "mark": 11}]}, "a mark is a whole number"),
        ({"ratings": [{"attribute": "ptich", "mark": 5}]}, "did you mean 'pitch'?"),
        ({"verdicts": [{**MOOR, "verdict": "better"}]}, "drive D1: not one of the words"),
        ({"fitout": "winsh"}, "did you mean 'winch'?"),
        ({"date": "2026-13-01"}, "not a day"),
    ],
)
def test_a_wrong_drive_is_refused_with_its_name_and_remedy(tarn_text: str, change: dict[str, Any], said: str) -> None:
    entry = {k: v for k, v in {**DRIVE, **change}.items() if v is not None}
    found = problems(tarn_text, drives=entry)
    assert any(said in f and "D1" in f and f.rpartition("| ")[2] for f in found), found


def test_the_same_verdict_in_two_respects_or_drives_is_no_contradiction(tarn_text: str) -> None:
    verdicts = [MOOR, {**MOOR, "attribute": "pitch", "verdict": "much worse"}, {"verdict": "same"}]
    other = {**DRIVE, "verdicts": [{**MOOR, "verdict": "much worse"}]}
    new = added(loads(tarn_text), ("drives", {**DRIVE, "verdicts": verdicts}), ("drives", other))
    assert len(new.programme.drives) == 2


def test_no_drive_before_its_builds_were_fitted(tarn_text: str) -> None:
    dated = tarn_text.replace("B2: {title: firmer rebound,", "B2: {date: 2026-10-05, title: firmer rebound,")
    assert dated != tarn_text
    found = problems(dated, drives=DRIVE)
    assert found == [
        "drives.0.date: drive D1 is dated before build B2 was fitted, 2026-10-05; correct whichever is wrong"
        " | 2026-10-05"
    ]
    run = {"date": "2026-10-01", "build": "B2", "axle": "front", "dyno": "dyno/front-b.csv"}
    assert any("dyno run R1 is dated before build B2" in f for f in problems(dated, dyno_runs=run))
    older = dated.replace("B3: {title: firm,", "B3: {date: 2026-10-04, title: firm,")
    with pytest.raises(ProgrammeError, match="build B3 is dated before build B2 was fitted"):
        loads(older)


def test_two_entries_of_one_name_are_refused(tarn_text: str) -> None:
    loaded = with_entry(loads(tarn_text), "drives", DRIVE)
    with pytest.raises(ProgrammeError, match=r"drives.1.id: drive D1: a second entry of this name"):
        with_entry(loaded, "drives", DRIVE, name="D1")
    with pytest.raises(ProgrammeError, match=r"the first is a build"):
        with_entry(loaded, "notes", {"date": "2026-10-01", "by": "A", "text": "x"}, name="B1")


@pytest.mark.parametrize(
    ("build", "said"),
    [
        ({"springs": {"front": "front_winsh"}}, "builds.B4.springs.front: there is no spring in the kit"),
        ({"packers": ["front_7"]}, "builds.B4.packers.0: there is no packer in the kit"),
        ({"dampers": {"front": "rear_a"}}, "this damper is made for the rear axle"),
        ({"bars": {"front": {"diameter": "26 mm", "arm": "250 mm", "length": "900 mm"}}}, "is given by its roll rate"),
        ({"tyre_pressure": {"front": "2.4"}}, "builds.B4.tyre_pressure.front"),
        ({"stop_spacers": {"middle": "20 mm"}}, "builds.B4.stop_spacers.middle"),
    ],
)
def test_a_build_with_a_part_that_is_not_there_is_refused(tarn_text: str, build: dict[str, Any], said: str) -> None:
    found = problems(tarn_text, build={"title": "x", "parent": "B3", **build})
    assert any(said in f for f in found), found


def test_a_pressure_says_nothing_of_a_tyre_whose_own_is_not_known(tarn_text: str) -> None:
    known = "    pressure: 2.4 bar\n"
    assert known in tarn_text
    build = {"title": "x", "parent": "B3", "tyre_pressure": {"front": "2.2 bar"}}
    found = problems(tarn_text.replace(known, ""), build=build)
    assert any("stiffness holds at a pressure that vehicle.tyre.pressure does not say" in f for f in found), found


KEYS = [
    "id",
    "corrects",
    "fields",
    "withdrawn",
    "date",
    "by",
    "build",
    "verdicts",
    "ratings",
    "section",
    "mark",
    "files",
]
ANYTHING = st.recursive(
    st.sampled_from([None, "x", "D1", "B1", "C1", "stock", "2026-10-01", 3, -1.5, True]),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.sampled_from(KEYS), inner, max_size=5),
    max_leaves=12,
)


@settings(max_examples=20, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(drives=ANYTHING, corrections=ANYTHING, notes=ANYTHING, build=ANYTHING)
def test_a_log_that_is_wrong_anywhere_is_refused_in_words(
    tarn_text: str, drives: object, corrections: object, notes: object, build: object
) -> None:
    text = tarn_text.replace("drives: []", f"drives: {json.dumps(drives)}")
    text = text.replace("\n\nroad_loop:", f"\n  B4: {json.dumps(build)}\n\nroad_loop:")
    with pytest.raises(ProgrammeError):  # B4 has no title whatever is drawn
        loads(f"{text}corrections: {json.dumps(corrections)}\nnotes: {json.dumps(notes)}\n")


# ------------------------------------------------------------------------------------------------ files


def test_an_attached_file_is_kept_by_its_content(tarn_folder: Path, tmp_path: Path) -> None:
    photo = tmp_path / "stop mark.jpg"
    photo.write_bytes(b"\xff\xd8 invented")
    kept = keep_file(tarn_folder, photo)
    assert kept == keep_file(tarn_folder, photo), "the same content is kept once"
    assert kept.startswith("attached/")
    assert kept.endswith("-stop mark.jpg")
    path = tarn_folder / "programme.yaml"
    new = with_entry(load(path), "drives", {**DRIVE, "files": [kept]})
    assert kept in new.hashes
    assert kept.partition("/")[2].partition("-")[0] == new.hashes[kept][:12]
    save(new, path)
    (tarn_folder / kept).write_bytes(b"another picture")
    with pytest.raises(ProgrammeError, match=r"drives.0.files.0: the file was changed after it was attached"):
        load(path)
    with pytest.raises(InputError, match="no such file to attach"):
        keep_file(tarn_folder, tmp_path / "nowhere.jpg")


def test_a_file_that_somebody_else_changed_is_not_overwritten(tarn_folder: Path) -> None:
    path = tarn_folder / "programme.yaml"
    mine, theirs = load(path), load(path)
    save(with_entry(theirs, "drives", DRIVE), path, over=theirs)
    with pytest.raises(InputError, match="somebody else has changed this file"):
        save(with_entry(mine, "drives", DRIVE), path, over=mine)
    assert len(load(path).programme.drives) == 1


# ------------------------------------------------------------------------------------------------ scales


def test_every_scale_is_anchored_at_every_second_mark() -> None:
    for name, scale in SCALES.items():
        assert list(scale.anchors) == [1, 3, 5, 7, 9], name
        assert len(set(scale.anchors.values())) == 5, name
        assert all(scale.words(mark) for mark in range(1, 11))
        assert scale.asks.endswith("?")


def test_the_page_shows_the_scales() -> None:
    page = (Path(__file__).parents[2] / "docs" / "tuning-log.md").read_text(encoding="utf-8")
    for name, scale in SCALES.items():
        assert f"| {scale.title} (`{name}`) | {scale.asks} | {' | '.join(scale.anchors.values())} |" in page
