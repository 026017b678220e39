"""Every kind of field edited in its place in a real browser, told in words by the history, and undone."""

from __future__ import annotations

import json

from served import SMALL, OpenPage, Server

KINDS = (
    ("vehicle", "Wheelbase", "107 in", "2700 mm became 107 in"),
    ("programme", "Data", "measured", "invented became measured"),
    ("vehicle.axles.front.damper.curve", "2", "-0.3 m/s: -820 N", "-0.3 m/s: -820 N"),
    ("kit", "Title", "springs <b>only</b>", "springs <b>only</b>"),
)
"""Place, label, what is typed and what the history says: a number with its unit, a choice, a list, a text."""


def test_fields_are_edited_told_and_undone(server: Server, open_page: OpenPage) -> None:
    number = server.take(SMALL)
    page = open_page()
    for version, (place, label, typed, _) in enumerate(KINDS, 2):
        page.goto(f"{server.url}/work/{number}/programme?at={place}")
        box = page.get_by_role("textbox", name=label, exact=True).or_(
            page.get_by_role("combobox", name=label, exact=True)
        )
        if label == "Data":
            known = page.locator(f"datalist[id='{box.get_attribute('list')}'] option")
            assert known.evaluate_all("all => all.map((o) => o.value)") == ["measured", "estimated", "invented"]
            box.fill("guessed")
            page.get_by_role("status").filter(has_text="measured, estimated, invented").wait_for()
        box.fill(typed)
        box.press("Enter")
        page.get_by_role("status").filter(has_text=f"Saved as version {version}").wait_for()
    page.goto(f"{server.url}/work/{number}/history")
    for version, (_, _, _, words) in enumerate(KINDS, 2):
        told = page.locator("section.change").filter(has=page.get_by_role("heading", name=f"Version {version},"))
        assert words in told.locator("li").first.inner_text().replace("\xa0", " ")
    page.get_by_role("button", name="Back to version 1").click()
    page.get_by_role("heading", name="Version 6,").wait_for()
    assert server.get(f"/api/programmes/{number}/versions/6")["text"] == SMALL


def test_going_back_over_what_somebody_else_saved_is_refused_in_words(server: Server, open_page: OpenPage) -> None:
    number = server.take(SMALL)

    def other_saves(base: int, wheelbase: str) -> None:
        body = {"text": SMALL.replace("2700 mm", wheelbase), "base": base, "note": "from the workshop"}
        server.post(f"/api/programmes/{number}/versions", json.dumps(body).encode())

    other_saves(1, "2710 mm")
    page = open_page()
    page.goto(f"{server.url}/work/{number}/history")
    back = page.get_by_role("button", name="Back to version 1")
    back.wait_for()
    other_saves(2, "2720 mm")
    back.click()
    page.get_by_text("version 3").first.wait_for()
    assert server.get(f"/api/programmes/{number}")["newest"]["number"] == 3
