"""The drive log in a real browser: kept without a connection, sent once, used with the thumb or the keyboard."""

from __future__ import annotations

import json
import urllib.request
from collections.abc import Callable
from typing import Any

import pytest
from served import PATIENCE, PHONE, SMALL, OpenPage, Server, Watched

OFFLINE = ["ERR_INTERNET_DISCONNECTED", "ERR_CONNECTION_REFUSED"]


def get(server: Server, path: str) -> Any:
    with urllib.request.urlopen(server.url + path, timeout=PATIENCE) as answer:
        return json.load(answer)


def drives(server: Server, programme: str) -> int:
    newest = get(server, f"/api/programmes/{programme}")["newest"]["number"]
    return sum(e["version"] is not None for e in get(server, f"/api/programmes/{programme}/entries")["entries"]) * (
        newest > 1
    )


def opened(page: Any, server: Server) -> Any:
    page.goto(f"{server.url}/phone")
    page.locator("html[data-ready=yes]").wait_for()
    return page


def say(page: Any, driver: str, verdict: str = "slightly better") -> None:
    if not page.locator("#driver").is_visible():
        page.locator("#setup summary").click()
    page.fill("#driver", driver)
    page.locator("#setup summary").click()
    page.get_by_label(verdict, exact=True).check()


def state(page: Any, words: str) -> None:
    page.locator("#state", has_text=words).wait_for()


def test_an_entry_made_without_a_connection_is_sent_exactly_once(
    server: Server, open_page: OpenPage, watched: Watched
) -> None:
    watched.allowed += OFFLINE
    page = opened(open_page(size=PHONE), server)
    programme = page.input_value("#programme")
    before = drives(server, programme)
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    page.context.set_offline(True)
    for verdict in ("slightly better", "same", "much worse"):
        say(page, "Mira", verdict)
        page.click("#keep")
    state(page, "kept here, 3 to send")
    page.reload()  # the page and the entries come from the phone
    page.locator("html[data-ready=yes]").wait_for()
    state(page, "kept here, 3 to send")
    assert drives(server, programme) == before
    page.context.set_offline(False)
    state(page, "all sent")
    assert drives(server, programme) == before + 3
    page.reload()
    state(page, "all sent")
    assert drives(server, programme) == before + 3


def test_a_lost_answer_makes_no_second_entry(server: Server, open_page: OpenPage, watched: Watched) -> None:
    watched.allowed += ["ERR_FAILED"]
    page = opened(open_page(size=PHONE), server)
    programme = page.input_value("#programme")
    before = drives(server, programme)

    def lose(route: Any) -> None:
        route.fetch()  # the server takes it in
        route.abort()  # and the phone never hears of it

    page.context.route("**/entries/*", lose, times=1)
    say(page, "Olaf")
    with page.expect_event("requestfailed"):
        page.click("#keep")
    state(page, "1 to send")
    page.click("#send")
    state(page, "all sent")
    assert drives(server, programme) == before + 1


def test_entries_wait_while_the_server_is_down_and_go_when_it_is_back(
    own_server: Server, open_page: OpenPage, watched: Watched
) -> None:
    watched.allowed += [*OFFLINE, "403"]  # the token of the first server is old: the page asks for a new one
    own_server.take(SMALL)
    page = opened(open_page(size=PHONE), own_server)
    programme = page.input_value("#programme")
    say(page, "Mira")
    own_server.stop()
    page.click("#keep")
    state(page, "kept here, 1 to send")
    own_server.start()
    page.click("#send")
    state(page, "all sent")
    assert drives(own_server, programme) == 1


def test_words_with_a_script_are_shown_as_words(server: Server, open_page: OpenPage) -> None:
    page = opened(open_page(size=PHONE), server)
    say(page, "<img src=x onerror=alert(1)>")
    page.fill("#note", "<script>alert(1)</script>")
    page.click("#keep")
    state(page, "all sent")
    assert "<script>alert(1)</script>" in page.inner_text("#kept")
    assert page.locator("#kept script, #kept img").count() == 0


def test_a_photo_is_sent_and_another_kind_of_file_refused(server: Server, open_page: OpenPage) -> None:
    page = opened(open_page(size=PHONE), server)
    say(page, "Mira")
    page.set_input_files("#photo", files=[{"name": "run.csv", "mimeType": "text/csv", "buffer": b"a,b"}])
    page.get_by_text("run.csv is no photo").wait_for()
    with urllib.request.urlopen(f"{server.url}/phone/icon-192.png", timeout=PATIENCE) as answer:
        image = answer.read()
    page.set_input_files("#photo", files=[{"name": "stop mark.png", "mimeType": "image/png", "buffer": image}])
    page.locator("#photos img").wait_for()
    page.click("#keep")
    state(page, "all sent")
    files = get(server, f"/api/programmes/{page.input_value('#programme')}")["newest"]["files"]
    assert any(name.endswith("-stop mark.png") for name in files)


def test_a_wrong_drive_is_corrected_by_an_entry_of_its_own(server: Server, open_page: OpenPage) -> None:
    page = opened(open_page(size=PHONE), server)
    say(page, "Mira")
    page.click("#keep")
    state(page, "all sent")
    page.get_by_role("button", name="Correct").first.click()
    page.get_by_label("much better", exact=True).check()
    page.fill("#why", "wrong button")
    page.click("#keep")
    page.get_by_text("wrong button").wait_for()
    state(page, "all sent")
    assert page.locator("#kept li").first.locator(".state", has_text="sent as C").count() == 1


def test_the_keyboard_alone_keeps_an_entry(server: Server, open_page: OpenPage) -> None:
    page = opened(open_page(size=PHONE), server)
    reached = []
    page.focus("#driver")
    page.keyboard.type("Mira")
    for _ in range(60):
        page.keyboard.press("Tab")
        name = page.evaluate("document.activeElement.id || document.activeElement.name")
        reached.append(name)
        if name == "verdicts":
            page.keyboard.press("ArrowDown")
        if name == "keep":
            page.keyboard.press("Enter")
            break
    assert {"section", "attribute", "verdicts", "marks", "note", "photo", "keep"} <= set(reached)
    state(page, "all sent")


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_page_is_accessible_and_its_controls_are_large(
    server: Server, open_page: OpenPage, serious: Callable[[Any], list[str]], scheme: str
) -> None:
    page = opened(open_page(size=PHONE, scheme=scheme), server)
    assert serious(page) == []
    boxes = page.locator("button:visible, select:visible, .choice:visible, textarea:visible, summary:visible").all()
    small = [b.inner_text()[:30] for b in boxes if (box := b.bounding_box()) and min(box["height"], box["width"]) < 48]
    assert small == []
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE[0]


def test_the_page_can_be_installed(server: Server, open_page: OpenPage) -> None:
    page = opened(open_page(size=PHONE), server)
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    session = page.context.new_cdp_session(page)
    assert session.send("Page.getAppManifest")["errors"] == []
    assert session.send("Page.getInstallabilityErrors")["installabilityErrors"] in (
        [],
        [{"errorId": "in-incognito", "errorArguments": []}],  # a test's browser is always a private window
    )
