"""What goes wrong while somebody works, in a real browser: told in plain words, and nothing that was typed is lost.

Two tabs save, the store is held by another program, its disk is full, the server is started anew.
"""

from __future__ import annotations

import contextlib
import resource
import sqlite3
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from fastapi.testclient import TestClient
from served import SMALL, OpenPage, Server, Watched

from tussock.store import open_store
from tussock.web.app import create_app


@pytest.fixture
def targets(own_server: Server) -> str:
    """Address of the targets of a programme of this test's own."""
    return f"{own_server.url}/work/{own_server.take(SMALL)}/targets"


def box(page: Any, label: str = "Front") -> Any:
    """The box of a target: the first of its name."""
    return page.get_by_role("complementary", name="What moves it").get_by_label(label, exact=True).first


def opened(page: Any, address: str) -> Any:
    page.goto(address)
    box(page).wait_for()
    return page


def typed(page: Any, text: str) -> None:
    box(page).fill(text)
    box(page).press("Enter")


def says(page: Any, words: str) -> None:
    page.get_by_role("status").filter(has_text=words).first.wait_for()


def newest(server: Server, address: str) -> dict[str, Any]:
    return dict(server.get(f"/api/programmes/{address.split('/')[-2]}")["newest"])


def test_two_tabs_that_save_are_told_and_merge_or_keep_both(server: Server, open_page: OpenPage) -> None:
    targets = f"{server.url}/work/{server.take(SMALL)}/targets"
    first = opened(open_page(), targets)
    second = opened(open_page(context=first.context), targets)
    typed(first, "41 mm")
    says(first, "Saved as version 2")
    box(second, "Rear").fill("44 mm")
    box(second, "Rear").press("Enter")
    told = second.get_by_role("alert").filter(has_text="Two of you were editing")
    told.get_by_role("button", name="Merge both").click()
    says(second, "Settled as version 3")
    text = server.get(f"/api/programmes/{targets.split('/')[-2]}/versions/3")["text"]
    assert "41 mm" in text
    assert "44 mm" in text
    typed(first, "43 mm")  # of version 2: somebody has saved since, though another field
    first.get_by_role("button", name="Keep both").click()
    first.get_by_role("heading", name="What was changed, by whom and why?").wait_for()
    assert newest(server, targets)["number"] == 3
    assert newest(server, first.url)["note"].startswith("kept beside version 3")


@contextlib.contextmanager
def held(server: Server | str) -> Iterator[None]:
    """Another program holds the database of a server, or of a file."""
    other = sqlite3.connect(server if isinstance(server, str) else server.store, isolation_level=None)
    try:
        other.execute("BEGIN EXCLUSIVE")
        yield
    finally:
        other.close()


@contextlib.contextmanager
def full(server: Server) -> Iterator[None]:
    """No file of the server's grows past 200 bytes: it meets a disk without room."""
    assert server.process is not None
    _, hard = resource.prlimit(server.process.pid, resource.RLIMIT_FSIZE)
    resource.prlimit(server.process.pid, resource.RLIMIT_FSIZE, (200, hard))
    try:
        yield
    finally:
        resource.prlimit(server.process.pid, resource.RLIMIT_FSIZE, (hard, hard))


@pytest.mark.parametrize(("trouble", "words"), [(held, "in use by another program"), (full, "no room left")])
def test_a_store_that_cannot_save_says_so_and_the_same_entry_saves_later(
    own_server: Server, open_page: OpenPage, targets: str, watched: Watched, trouble: Any, words: str
) -> None:
    watched.allowed.append("503")  # pictures that the page asks for meanwhile cannot be read either
    page = opened(open_page(), targets)
    with trouble(own_server):
        typed(page, "41 mm")
        says(page, words)
        assert box(page).input_value() == "41 mm"
    assert newest(own_server, targets)["number"] == 1
    box(page).press("Enter")
    says(page, "Saved as version 2")


@pytest.mark.parametrize(
    "path", ["/figures/1/1/targets/any.svg", "/tables/1/1/targets/any.csv", "/linkage/1/1/front", "/export/1/1.yaml"]
)
def test_what_belongs_to_a_page_is_busy_not_missing_while_the_store_is_held(tmp_path: Path, path: str) -> None:
    place = tmp_path / "store.sqlite"
    with open_store(place, patience=0.1) as store:
        store.programmes.create(SMALL, author="Anna")
        client = TestClient(create_app(store), base_url="http://127.0.0.1")
        with held(str(place)):
            assert client.get(path).status_code == 503


def test_a_page_asked_for_while_the_store_is_held_says_so(
    own_server: Server, open_page: OpenPage, targets: str, watched: Watched
) -> None:
    watched.allowed.append("500")
    page = open_page()
    with held(own_server):
        page.goto(own_server.url)
        page.get_by_role("alert").filter(has_text="in use by another program").wait_for()
    page.get_by_role("link", name="Try again").click()
    page.get_by_role("heading", name="Which programme?").wait_for()


def test_what_is_typed_and_its_place_outlive_a_restart_of_the_server(
    own_server: Server, open_page: OpenPage, targets: str, watched: Watched
) -> None:
    watched.allowed += ["ERR_CONNECTION_REFUSED", "WebSocket", "ERR_EMPTY_RESPONSE"]
    page = opened(open_page(size=(1440, 500)), targets)
    page.get_by_label("Why you change it").fill("stands too low")
    page.mouse.wheel(0, 200)
    page.wait_for_function("window.scrollY > 100")
    own_server.stop()
    page.get_by_text("Connection lost").wait_for()
    box(page).fill("41 mm")
    box(page).press("Enter")  # asked to save while nobody is there
    box(page, "Rear").fill("44.5 m")  # and in the middle of typing
    place = page.evaluate("window.scrollY")
    with page.expect_event("load"):  # the page loads itself again
        own_server.start()
    says(page, "Saved as version 2")
    page.wait_for_function("document.activeElement.id.startsWith('field-')")
    assert box(page, "Rear").input_value() == "44.5 m"
    assert abs(page.evaluate("window.scrollY") - place) < 30
    assert newest(own_server, targets)["note"] == "stands too low"
    page.keyboard.press("End")
    page.keyboard.type("m")
    page.keyboard.press("Enter")
    says(page, "Saved as version 3")


@pytest.mark.parametrize(
    ("path", "words"),
    [
        ("/work/987654/travel", "There is no programme 987654"),
        ("/work/none/travel", "There is no programme 'none'"),
        ("/work/1/nowhere", "There is no page 'nowhere'"),
        ("/work/1/travel?build=B99", "There is no build 'B99'"),
        ("/nowhere/at/all", "There is no page /nowhere/at/all"),
        ("/work/1/programme?at=vehicle.nothing", "There is nothing at this place"),
    ],
)
def test_a_deep_link_to_what_is_not_there_says_so_and_leads_on(
    server: Server, open_page: OpenPage, watched: Watched, path: str, words: str
) -> None:
    watched.allowed.append("404")
    page = open_page()
    page.goto(server.url + path)
    page.get_by_text(words).first.wait_for()
    assert page.get_by_role("link", name="programme").or_(page.get_by_role("link", name="Tussock")).count() >= 1
