"""The stack in the hand, in a real browser: by buttons, by keys, by dragging, by one thumb; saved, undone, dropped."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from served import PHONE, SCREEN, OpenPage, Server


def discs(page: Any) -> list[str]:
    """Return the discs of the list from the seat."""
    texts = page.locator(".discs li").evaluate_all("rows => rows.map(r => r.getAttribute('aria-label'))")
    return [str(t).partition(", ")[2] for t in reversed(texts)]


def opened(server: Server, open_page: OpenPage, programme: int = 1, **how: Any) -> Any:
    page = open_page(**how)
    page.goto(f"{server.url}/work/{programme}/dampers")
    page.wait_for_selector(".hand [data-turn]")
    return page


def turned(page: Any, act: Callable[[], None]) -> str:
    """Do something, wait until the force has followed, and return what the panel says."""
    before = page.locator("[data-turn]").get_attribute("data-turn")
    act()
    page.wait_for_function("(b) => document.querySelector('[data-turn]').dataset.turn !== b", arg=before)
    return str(page.locator(".hand-says").inner_text())


def press(page: Any, words: str) -> str:
    return turned(page, lambda: page.locator(".hand-buttons button", has_text=re.compile(f"^{words}$")).click())


def test_buttons_change_the_stack_and_the_force_follows(server: Server, open_page: OpenPage) -> None:
    page = opened(server, open_page)
    first = discs(page)
    page.locator("#disc-0").click()
    said = press(page, "Thicker")
    assert re.search(r"Rebound takes \d+ N \(\+\d+ N\)", said.replace("\xa0", " "))
    assert "first 0.20 x 28 swapped for 0.25 x 28" in said
    assert discs(page) == ["0.25 x 28 mm", *first[1:]]
    press(page, "Add another")
    assert discs(page)[:2] == ["0.25 x 28 mm"] * 2
    assert len(discs(page)) == len(first) + 1
    rects = page.locator(".stack .disc").count()
    assert rects == len(first) + 1
    press(page, "Take out")
    page.locator(".hand-ends button", has_text="Drop").click()
    page.wait_for_function("() => !document.querySelector('.hand-says .change-words')")
    assert discs(page) == first


def test_a_stack_that_cannot_be_built_says_why_and_goes_back(server: Server, open_page: OpenPage) -> None:
    page = opened(server, open_page)
    first = discs(page)
    page.locator("#disc-0").click()
    page.locator("#hand-size").select_option("0.20 x 20 mm")
    page.wait_for_selector(".hand-says.wrong")
    assert "does not cover its seat" in page.locator(".hand-says").inner_text()
    turned(page, lambda: page.locator(".hand-ends button", has_text="Undo").click())
    assert discs(page) == first


def test_the_keyboard_alone_is_enough(server: Server, open_page: OpenPage) -> None:
    page = opened(server, open_page)
    first = discs(page)
    page.locator(".discs").focus()
    page.keyboard.press("ArrowDown")
    page.wait_for_selector(f"#disc-{len(first) - 2}[aria-selected=true]")
    assert page.locator(".discs").get_attribute("aria-activedescendant") == f"disc-{len(first) - 2}"
    turned(page, lambda: page.keyboard.press("+"))
    assert discs(page)[-2] == "0.25 x 20 mm"
    turned(page, lambda: page.keyboard.press("Alt+ArrowUp"))
    assert discs(page)[-1] == "0.25 x 20 mm"
    turned(page, lambda: page.keyboard.press("Delete"))
    assert len(discs(page)) == len(first) - 1
    for _ in range(3):
        turned(page, lambda: page.keyboard.press("Control+z"))
    assert discs(page) == first
    assert page.evaluate("() => document.activeElement.className") == "discs"


def test_a_disc_is_dragged_by_its_grip(server: Server, open_page: OpenPage) -> None:
    page = opened(server, open_page)
    first = discs(page)
    grip = page.locator("#disc-6 .grip").bounding_box()
    onto = page.locator("#disc-4").bounding_box()
    page.mouse.move(grip["x"] + 5, grip["y"] + 5)
    page.mouse.down()
    page.mouse.move(grip["x"] + 6, onto["y"] + 10, steps=5)
    turned(page, page.mouse.up)
    assert discs(page) == [*first[:4], first[6], first[4], first[5]]


def test_the_panel_fits_and_is_accessible(
    server: Server, open_page: OpenPage, serious: Callable[..., list[str]]
) -> None:
    page = opened(server, open_page)
    for size, scheme, only in ((SCREEN, "dark", ()), (PHONE, "light", ("color-contrast", "target-size"))):
        page.set_viewport_size({"width": size[0], "height": size[1]})
        page.emulate_media(color_scheme=scheme)
        page.wait_for_function(f"document.body.classList.contains('body--{scheme}')")
        page.wait_for_function(f"document.documentElement.scrollWidth <= {size[0]}")
        assert page.locator(".hand .sheet:visible").count() == 1
        assert serious(page, only=only) == []


def test_one_thumb_reaches_buttons_and_sees_the_curve(server: Server, open_page: OpenPage) -> None:
    page = opened(server, open_page, size=PHONE)
    page.locator(".hand-chart").evaluate("e => e.scrollIntoView({block: 'start'})")
    for words in ("Thicker", "Disc below", "Add another"):
        box = page.locator(".hand-buttons button", has_text=re.compile(f"^{words}$")).bounding_box()
        assert 0 <= box["y"] <= PHONE[1] - box["height"], "the buttons stay in reach at the lower edge"
        assert box["height"] >= 44.0
    chart = page.locator(".hand .sheet:visible").bounding_box()
    bar = page.locator(".hand-buttons").bounding_box()
    assert chart["y"] + chart["height"] <= bar["y"] + 1.0
    said = press(page, "Thinner")
    assert "swapped for" in said


def test_saving_makes_a_version_that_every_page_follows(server: Server, open_page: OpenPage) -> None:
    programme = server.copy(1)
    page = opened(server, open_page, programme)
    page.locator("#disc-1").click()
    press(page, "Thicker")
    held = discs(page)
    page.locator(".hand-ends .main-button").click()
    page.wait_for_function("() => document.querySelector('.over .version').innerText.includes('version 2,')")
    page.wait_for_function("() => !document.querySelector('.hand-says .change-words')")
    assert discs(page) == held
    page.goto(f"{server.url}/work/{programme}/history")
    page.wait_for_selector("text=rebound: second 0.20 x 28 swapped for 0.25 x 28")


def test_what_is_held_leaves_as_picture_figures_and_text(server: Server, open_page: OpenPage) -> None:
    page = opened(server, open_page)
    for words, begins in (
        ("SVG", b"<?xml"),
        ("PNG", b"\x89PNG"),
        ("Figures, CSV", b"curve"),
        ("Table, CSV", b"Direction"),
    ):
        with page.expect_download() as got:
            page.locator(".hand .tools button", has_text=re.compile(f"^{words}$")).click()
        with open(got.value.path(), "rb") as file:
            assert file.read(9).startswith(begins)
        assert got.value.suggested_filename.startswith("dampers")
