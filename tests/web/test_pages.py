"""The pages of the workbench on an open store, without a browser: what is read, edited, saved and refused."""

from __future__ import annotations

import asyncio
import html
import re
import socket
from collections.abc import Awaitable, Callable, Iterator
from pathlib import Path

import pytest
from nicegui import ui
from nicegui.testing import User
from served import PATIENCE
from simulated import simulate

from tussock.errors import InputError
from tussock.record.edit import set_field
from tussock.store import Store, open_store
from tussock.web.app import register_pages
from tussock.web.desk import Choice, Desk
from tussock.web.places import PLACES
from tussock.web.serve import _listening

EXAMPLE = Path(__file__).parents[2] / "docs" / "examples" / "tarn-small.yaml"


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with open_store(tmp_path / "store.db") as opened:
        opened.programmes.create(EXAMPLE.read_text(encoding="utf-8"), author="Anna", note="first")
        yield opened


def visit(store: Store, job: Callable[[User], Awaitable[None]]) -> None:
    """Run what a user does on the pages of a store."""
    simulate(store, lambda user, _: job(user))


def words(user: User) -> str:
    """Return all that the page says, without its markup."""
    with user:
        parts = [str(e.content) for e in user.client.elements.values() if isinstance(e, ui.html)]  # type: ignore[union-attr]
    text = re.sub(r"<[^>]+>", " ", re.sub(r"</?(?:strong|em)>", "", " ".join(parts)))
    return re.sub(r"\s+", " ", html.unescape(text).replace("\xa0", " "))


async def until(user: User, wanted: str, seconds: float = PATIENCE) -> str:
    """Return the words of the page once it says what is wanted."""
    for _ in range(int(seconds / 0.05)):
        said = words(user)
        if wanted in said:
            return said
        await asyncio.sleep(0.05)
    raise AssertionError(f"the page never says {wanted!r}; it says: {words(user)[:2000]}")


def test_first_page_lists_programmes(store: Store) -> None:
    async def job(user: User) -> None:
        await user.open("/")
        said = await until(user, "programme")
        assert "Tarn" in said
        assert "by Anna" in said

    visit(store, job)


def test_an_empty_store_says_how_to_begin_and_takes_an_invented_vehicle_in(tmp_path: Path) -> None:
    async def job(user: User) -> None:
        await user.open("/")
        assert "The store holds no programme yet" in words(user)
        user.find(marker="begin-dunnock").click()
        said = await until(user, "does the model reproduce it?")
        assert "Dunnock" in said

    with open_store(tmp_path / "empty.db") as empty:
        visit(empty, job)
        assert [entry.name for entry in empty.programmes.list()] == ["Dunnock"]


def test_the_rail_folds_the_studies_of_other_stages(store: Store) -> None:
    async def job(user: User) -> None:
        await user.open("/work/1/modes")
        await until(user, "Steer wobble")
        with user:
            rail = next(e for e in user.client.elements.values() if "rail" in e.classes)  # type: ignore[union-attr]
            text = str(rail.content)  # type: ignore[attr-defined]
        drive = text[text.index(">Drive<") : text.index(">Tuning<")]
        assert "<details" not in drive
        assert 'aria-current="page"' in drive
        assert text.count("<details") == len({p.under for p in PLACES.values() if p.under}) - 1
        valving = text[text.index(">Valving<") : text.index(">Drive<")]
        assert "<summary>5 studies</summary>" in valving
        assert ">Build sheet<" in valving

    visit(store, job)


def test_a_stage_shows_question_answer_and_numbers_in_units(store: Store) -> None:
    async def job(user: User) -> None:
        await user.open("/work/1/targets")
        said = await until(user, "What moves it")
        place = PLACES["targets"]
        result = Desk(store).result(store.programmes.version(1), place, Choice())
        assert place.question in said
        assert result.answer in said
        for table in result.tables:
            assert table.title in said

    visit(store, job)


def test_an_edit_in_place_becomes_a_version_and_moves_the_answer(store: Store) -> None:
    async def job(user: User) -> None:
        await user.open("/work/1/targets")
        assert "must lift up to 45 mm" in await until(user, "What moves it")
        user.find(marker="field-targets.lift.bare.front").trigger("change", "2.0 in")
        await until(user, "must lift up to 51 mm")
        new = store.programmes.version(1)
        assert (new.number, new.author) == (2, "Anna")
        assert "targets.lift.bare.front" in new.note
        assert float(store.programmes.programme(new).programme.targets.lift["bare"].front) == pytest.approx(0.0508)
        assert "version 2, saved" in words(user)

    visit(store, job)


@pytest.mark.parametrize(
    ("typed", "said"), [("35", "has no unit"), ("35 kg", "a length"), ("soon", "a length"), ("9 m", "plausible")]
)
def test_a_wrong_value_is_said_beside_its_field_and_not_saved(store: Store, typed: str, said: str) -> None:
    async def job(user: User) -> None:
        await user.open("/work/1/targets")
        await until(user, "What moves it")
        user.find(marker="field-targets.lift.bare.front").trigger("change", typed)
        await until(user, said)
        assert store.programmes.version(1).number == 1

    visit(store, job)


@pytest.mark.parametrize(
    ("address", "said"),
    [
        ("/work/7/travel", "There is no programme 7"),
        ("/work/1/nowhere", "There is no page"),
        ("/work/1/travel?build=B9", "There is no build 'B9'"),
    ],
)
def test_an_address_that_leads_nowhere_says_so(store: Store, address: str, said: str) -> None:
    async def job(user: User) -> None:
        await user.open(address)
        assert said in words(user)

    visit(store, job)


def test_what_people_write_never_becomes_markup(store: Store) -> None:
    text = EXAMPLE.read_text(encoding="utf-8")
    name = re.search(r"^  name: (.+)$", text, re.MULTILINE)
    assert name is not None
    evil = '<script>document.title = "gone"</script>'
    store.programmes.save(1, text.replace(name[0], f"  name: '{evil}'"), base=1, author="Anna")

    async def job(user: User) -> None:
        for address in ("/", "/work/1/targets"):
            await user.open(address)
            said = await until(user, "document.title")
            assert said
            with user:
                parts = [str(e.content) for e in user.client.elements.values() if isinstance(e, ui.html)]  # type: ignore[union-attr]
            assert not any("<script" in part for part in parts)

    visit(store, job)


def other_saves(store: Store, field: str, typed: str) -> None:
    """Let somebody else save a field of the newest version."""
    newest = store.programmes.version(1)
    text = set_field(store.programmes.programme(newest), field, typed).text
    store.programmes.save(1, text, base=newest.number, author="Ben", note="from the workshop")


def test_two_who_edit_at_once_are_told_and_merge(store: Store) -> None:
    async def job(user: User) -> None:
        await user.open("/work/1/targets")
        await until(user, "What moves it")
        other_saves(store, "targets.droop.front", "71 mm")
        user.find(marker="field-targets.lift.bare.front").trigger("change", "51 mm")
        said = await until(user, "Two of you were editing")
        assert "Ben" in said
        assert "70 mm became 71 mm" in said
        assert store.programmes.version(1).number == 2
        user.find(marker="merge").click()
        await until(user, "must lift up to 51 mm")
        merged = store.programmes.programme(store.programmes.version(1)).programme.targets
        assert float(merged.lift["bare"].front) == pytest.approx(0.051)
        assert float(merged.droop["front"]) == pytest.approx(0.071)

    visit(store, job)


def test_two_who_change_one_field_may_keep_both(store: Store) -> None:
    async def job(user: User) -> None:
        await user.open("/work/1/targets")
        await until(user, "What moves it")
        other_saves(store, "targets.lift.bare.front", "40 mm")
        user.find(marker="field-targets.lift.bare.front").trigger("change", "51 mm")
        assert "Both of you changed" in await until(user, "Two of you were editing")
        user.find(marker="apart").click()
        await until(user, "by whom and why")

    visit(store, job)
    lifts = [
        float(store.programmes.programme(e.newest).programme.targets.lift["bare"].front)
        for e in store.programmes.list()
    ]
    assert sorted(lifts) == pytest.approx([0.040, 0.051])


def test_history_tells_changes_in_words_and_goes_back(store: Store) -> None:
    other_saves(store, "targets.droop.front", "71 mm")

    async def job(user: User) -> None:
        await user.open("/work/1/history")
        said = await until(user, "from the workshop")
        assert "70 mm became 71 mm" in said
        user.find(marker="back-1").click()
        await until(user, "Version 3,")
        assert store.programmes.version(1).digest == store.programmes.version(1, 1).digest

    visit(store, job)


def test_every_field_is_found_by_words_and_edited(store: Store) -> None:
    async def job(user: User) -> None:
        await user.open("/work/1/programme")
        await until(user, "every one can be edited")
        user.find(marker="search").trigger("input", "wheelbase")
        await until(user, "fields found")
        user.find(marker="field-vehicle.wheelbase").trigger("change", "2710 mm")
        await until(user, "Saved as version 2")
        assert store.programmes.programme(store.programmes.version(1)).programme.vehicle.wheelbase.text == "2710 mm"

    visit(store, job)


def test_who_may_read_only_sees_values_as_text_and_no_box(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(register_pages.__globals__, "_author", lambda request, settings: "")
    store.programmes.restore(1, 1, base=1, author="Anna")
    other_saves(store, "targets.droop.front", "71 mm")

    async def job(user: User) -> None:
        for address, said in (
            ("/work/1/targets", "Front 35 mm"),
            ("/work/1/programme?at=vehicle", "Wheelbase 2700 mm"),
            ("/work/1/history", "70 mm became 71 mm"),
            ("/", "Tarn, cut down"),
        ):
            await user.open(address)
            await until(user, said)
            with user:
                elements = list(user.client.elements.values())  # type: ignore[union-attr]
            assert [e.props.get("id") for e in elements if e.tag == "input" and e.props.get("id") != "search"] == []
            assert not any('type="file"' in str(e.content) for e in elements if isinstance(e, ui.html))
            assert not any("Back to this version" in str(e.content) for e in elements if isinstance(e, ui.html))

    visit(store, job)


def test_each_place_of_the_programme_has_an_address(store: Store) -> None:
    async def job(user: User) -> None:
        await user.open("/work/1/programme?at=vehicle.axles.front.hardpoints")
        await until(user, "Wheel centre")
        await user.open("/work/1/programme?at=vehicle.nothing")
        await until(user, "nothing at this place")

    visit(store, job)


def test_a_long_study_runs_as_a_job_whose_answer_the_page_shows(store: Store) -> None:
    async def job(user: User) -> None:
        await user.open("/work/1/windows")
        await until(user, "Compute now")
        user.find("Compute now").click()
        await until(user, "Stop")
        said = await until(user, "What moves it")
        assert Desk(store).kept(store.programmes.version(1), PLACES["windows"], Choice()) is not None
        assert "Compute now" not in said

    visit(store, job)


def test_a_long_study_can_be_stopped_and_asked_for_again(store: Store) -> None:
    async def job(user: User) -> None:
        await user.open("/work/1/drive")
        await until(user, "Compute now")
        user.find("Compute now").click()
        await until(user, "Stop")
        user.find(marker="stop").click()
        said = await until(user, "Compute now")
        assert "Not computed" in said

    visit(store, job)


def test_a_picture_never_starts_a_long_study(store: Store) -> None:
    desk = Desk(store)
    with pytest.raises(InputError, match="takes long and is not computed yet"):
        desk.at_once(store.programmes.version(1), PLACES["drive"], Choice())


def test_whoever_comes_before_the_pages_stand_waits() -> None:
    with _listening("127.0.0.1", 0) as listening, socket.create_connection(listening.getsockname(), timeout=PATIENCE):
        pass
