"""Boxes of the workbench's pages in a real browser, typed into as people type."""

from __future__ import annotations

import re

from served import PHONE, SMALL, OpenPage, Server


def test_what_is_being_typed_stays_while_the_page_says_what_is_wrong(server: Server, open_page: OpenPage) -> None:
    page = open_page()
    page.goto(f"{server.url}/work/{server.take(SMALL)}/targets")
    box = page.locator("input[id^=field-targets]").first
    before = box.input_value()
    box.fill("")
    for typed, words in (("71.5 par", "par"), ("snips", "parsnips")):  # wrong all the way, and slower than the checks
        box.press_sequentially(typed)
        page.locator(".field.wrong .says").filter(has_text=re.compile(rf"\b{words}\b")).wait_for()
    assert box.input_value() == "71.5 parsnips"
    box.fill(before)
    box.press("Enter")
    page.wait_for_selector(".field.wrong", state="detached")


def test_a_check_that_comes_behind_its_save_does_not_hide_what_the_save_says(
    server: Server, open_page: OpenPage
) -> None:
    page = open_page()
    page.goto(f"{server.url}/work/{server.take(SMALL)}/targets")
    box = page.get_by_role("complementary", name="What moves it").get_by_label("Front", exact=True).first
    box.fill("41 mm")  # typing is checked 0.4 s later
    box.press("Enter")
    says = page.get_by_role("status").filter(has_text="Saved as version 2")
    says.wait_for()
    other = page.get_by_role("complementary", name="What moves it").get_by_label("Rear", exact=True).first
    other.press_sequentially("parsnips")  # what is said of it comes behind that check
    page.locator(".field.wrong .says").wait_for()
    assert says.is_visible()


def test_the_page_that_is_open_is_in_sight_on_a_phone(server: Server, open_page: OpenPage) -> None:
    page = open_page(size=PHONE)
    page.goto(f"{server.url}/work/1/log")
    here = page.locator(".rail [aria-current]")
    here.wait_for()
    page.wait_for_function(
        "() => { const at = document.querySelector('.rail [aria-current]').getBoundingClientRect();"
        " return at.left >= 0 && at.right <= window.innerWidth; }"
    )


def test_who_reads_is_told_that_somebody_else_saved(server: Server, open_page: OpenPage) -> None:
    number = server.take(SMALL)
    reads, writes = open_page(), open_page()
    for page in (reads, writes):
        page.goto(f"{server.url}/work/{number}/targets")
        page.get_by_role("complementary", name="What moves it").wait_for()
    box = writes.get_by_role("complementary", name="What moves it").get_by_label("Front", exact=True).first
    box.fill("42 mm")
    box.press("Enter")
    told = reads.get_by_role("status").filter(has_text="saved version 2; this page shows version 1")
    told.wait_for()
    assert not writes.get_by_role("status").filter(has_text="this page shows version").count()
    told.get_by_role("link", name="Show the newest").click()
    reads.get_by_text("version 2, saved").wait_for()
