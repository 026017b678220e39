"""The pages of the workbench on an open store, without a browser: what is read, edited, saved and refused."""

from __future__ import annotations

import asyncio
import html
import re
from collections.abc import Awaitable, Callable, Iterator
from pathlib import Path

import pytest
from nicegui import ui
from nicegui.testing import User
from nicegui.testing.user_simulation import user_simulation

from tussock.store import Store, open_store
from tussock.web.app import Settings, register_pages
from tussock.web.desk import Choice, Desk
from tussock.web.places import PLACES

EXAMPLE = Path(__file__).parents[2] / "docs" / "examples" / "tarn-small.yaml"


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with open_store(tmp_path / "store.db") as opened:
        opened.programmes.create(EXAMPLE.read_text(encoding="utf-8"), author="Anna", note="first")
        yield opened


def visit(store: Store, job: Callable[[User], Awaitable[None]]) -> None:
    """Run what a user does on the pages of a store."""

    async def run() -> None:
        async with user_simulation() as user:
            register_pages(Desk(store), Settings(author="Anna"))
            await job(user)

    asyncio.run(run())


def words(user: User) -> str:
    """Return all that the page says, without its markup."""
    with user:
        parts = [str(e.content) for e in user.client.elements.values() if isinstance(e, ui.html)]  # type: ignore[union-attr]
    text = re.sub(r"<[^>]+>", " ", re.sub(r"</?(?:strong|em)>", "", " ".join(parts)))
    return re.sub(r"\s+", " ", html.unescape(text).replace("\xa0", " "))


async def until(user: User, wanted: str, seconds: float = 60.0) -> str:
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
        ("/work/7/travel", "there is no programme 7"),
        ("/work/1/nowhere", "There is no page"),
        ("/work/1/travel?build=B9", "there is no build 'B9'"),
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
