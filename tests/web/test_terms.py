"""Further inputs of studies: chosen in the address, refused in words, and part of what a result is kept by."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from importlib.resources import as_file, files
from pathlib import Path

import pytest
from fastapi.testclient import TestClient

from tussock.errors import InputError
from tussock.store import Store, Version, open_store
from tussock.store.exchange import take_folder
from tussock.web.app import create_app
from tussock.web.desk import Choice, Desk
from tussock.web.pictures import picture_address, stamp
from tussock.web.places import FURTHER, PLACES

BATCH = Path(__file__).parents[2] / "docs" / "examples" / "batch.csv"


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    with open_store(tmp_path_factory.mktemp("store") / "store.db") as opened:
        for name in ("tarn", "dunnock"):
            with as_file(files("tussock") / "data" / name) as folder:
                take_folder(opened, folder / "programme.yaml", author="Anna")
        yield opened


@pytest.fixture(scope="module")
def desk(store: Store) -> Desk:
    return Desk(store)


def chosen(**further: str) -> Choice:
    return Choice.of(further.items())


def tarn(store: Store) -> Version:
    return store.programmes.version(1)


def test_every_study_of_the_command_line_on_a_programme_has_a_page() -> None:
    wanted = {"fit", "sweep", "sensitivity", "dyno", "find-stack", "build-sheet", "batch", "carry-over"}
    assert wanted <= PLACES.keys()
    assert not FURTHER & {"fitout", "build", "against", "at", "look", "width", "save", "version"}


def test_what_is_chosen_moves_the_answer_and_its_key(store: Store, desk: Desk) -> None:
    place, version = PLACES["build-sheet"], tarn(store)
    first, *rest = (o.key for o in desk.offered(version, place)["damper"])
    usual = desk.result(version, place, Choice())
    assert first in usual.answer
    other = desk.result(version, place, chosen(damper=rest[-1]))
    assert rest[-1] in other.answer
    assert desk.kept(version, place, chosen(damper=first)) is usual, "said or left out, the first is one question"


def test_what_other_pages_ask_is_no_part_of_a_question(store: Store, desk: Desk) -> None:
    place = PLACES["modes"]
    assert chosen(speed="100 km/h", damper="front-a", stroke="rebound").at(place) == chosen(speed="100 km/h")
    assert dict(chosen(nonsense="1").further) == {}


@pytest.mark.parametrize(
    ("place", "further", "said"),
    [
        ("build-sheet", {"damper": "none such"}, "there is no damper 'none such'"),
        ("dyno", {"file": "../../programme.yaml"}, "there is no sweep"),
        ("batch", {}, "there is no batch to choose: attach its table"),
        ("find-stack", {"forces": "soon"}, "Wanted forces|0.26 m/s: 800 N"),
        ("find-stack", {}, "nothing is wanted"),
        ("sweep", {"ranges": "front_rebound 1"}, "Adjusters and ranges: 'front_rebound 1' is no range"),
        ("modes", {"speed": "80"}, "Speed: .*unit"),
        ("sweep", {"count": "many"}, "no whole number from 2 to 5000"),
        ("modes", {"speed": "8" * 1001}, "at most 1000 characters"),
    ],
)
def test_what_cannot_be_is_refused_in_words(
    store: Store, desk: Desk, place: str, further: dict[str, str], said: str
) -> None:
    with pytest.raises(InputError, match=said):
        desk.result(tarn(store), PLACES[place], chosen(**further))


def test_a_page_without_anything_to_choose_says_what_to_do(store: Store, desk: Desk) -> None:
    """Of Dunnock's dampers no insides are known, and it comes without a table that the programme does not read."""
    dunnock = store.programmes.version(2)
    assert desk.offered(dunnock, PLACES["batch"])["file"] == ()
    with pytest.raises(InputError, match="there is no damper to choose: give a damper of the kit its body"):
        desk.result(dunnock, PLACES["batch"], Choice())
    assert desk.standing(dunnock, PLACES["batch"], Choice()).state == "open"


def test_an_earlier_kit_is_another_programme_of_the_store(store: Store, desk: Desk) -> None:
    result = desk.result(tarn(store), PLACES["carry-over"], Choice())
    assert "Dunnock" in result.inputs["earlier kit"]
    back = desk.result(store.programmes.version(2), PLACES["carry-over"], chosen(earlier="1.1"))
    assert "Tarn" in back.inputs["earlier kit"]


def test_an_attached_sweep_is_held_against_a_damper(store: Store, desk: Desk) -> None:
    alone = desk.result(tarn(store), PLACES["dyno"], chosen(file="dyno/front-b.csv"))
    assert alone.passes
    held = desk.result(tarn(store), PLACES["dyno"], chosen(file="dyno/front-b.csv", damper="stock front"))
    assert not held.passes, "a kit's damper is no stock damper"


def test_a_dampers_own_sweep_is_held_against_its_valves_only(store: Store, desk: Desk) -> None:
    own = desk.result(tarn(store), PLACES["dyno"], chosen(file="dyno/front-b.csv", damper="front_b"))
    against = [words for name, words in own.inputs.items() if name.startswith("against")]
    assert len(against) == 1
    assert "the prediction for front_b" in against[0]


def test_a_picture_named_after_a_file_in_a_folder_has_an_address(store: Store) -> None:
    version, about = tarn(store), chosen(file="dyno/front-b.csv")
    with TestClient(create_app(store), base_url="http://127.0.0.1") as client:
        result = client.get("/api/programmes/1/studies/dyno", params={"with": "file=dyno/front-b.csv"}).json()
        keys = [picture["key"] for picture in result["pictures"]]
        assert any("/" in key for key in keys)
        for key in keys:
            assert client.get(picture_address(version, "dyno", about, key, "csv")).status_code == 200, key


def test_every_study_beside_the_stages_stands_below_one() -> None:
    stages = {name for name, place in PLACES.items() if place.stage}
    assert {place.under for place in PLACES.values() if not place.stage} <= stages
    assert {place.under for place in PLACES.values() if place.stage} == {""}


def test_an_attached_batch_is_judged(store: Store, desk: Desk) -> None:
    version = tarn(store)
    with BATCH.open("rb") as stream:
        kept = store.files.attach(stream, "batch.csv", "text/csv", most=1_000_000)
    saved = store.programmes.save(
        1,
        store.programmes.text(version),
        base=version.number,
        author="Anna",
        note="a batch",
        files={kept.kept_path: kept.digest},
    )
    with pytest.raises(InputError, match="choose the batch above"):
        desk.result(saved, PLACES["batch"], Choice())
    damper = next(o.key for o in desk.offered(saved, PLACES["batch"])["damper"])
    result = desk.result(saved, PLACES["batch"], chosen(file=kept.kept_path, damper=damper))
    assert f"{damper} pass" in result.answer


def test_the_rest_interface_takes_further_inputs(store: Store) -> None:
    client = TestClient(create_app(store), base_url="http://127.0.0.1")
    listed = {s["name"]: s for s in client.get("/api/studies").json()["studies"]}
    assert [f["name"] for f in listed["build-sheet"]["further"]] == ["damper"]
    good = client.get("/api/programmes/1/studies/modes", params={"with": "road=E"})
    assert good.status_code == 200
    bad = client.get("/api/programmes/1/studies/build-sheet", params={"with": "damper=none"})
    assert bad.status_code == 422
    assert "there is no damper" in bad.json()["error"]["message"]


def test_an_address_tells_contents_apart_and_not_only_numbers(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    """Regression: version 1 of another store was shown with the pictures that the browser had of this one."""
    version = store.programmes.version(1)
    others = [
        replace(version, digest="0" * 64),
        replace(version, files={**version.files, "dyno/a.csv": "1" * 64}),
    ]
    assert stamp(replace(version, note="another note")) == stamp(version)
    assert len({stamp(v) for v in (version, *others)}) == 3
    assert f"of={stamp(version)}" in picture_address(version, "dyno", Choice(), "a", "svg")
    before = stamp(version)
    monkeypatch.setattr("tussock.__version__", "99.0")
    assert stamp(version) != before
