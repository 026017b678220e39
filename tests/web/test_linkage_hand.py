"""The linkage in the hand, in a real browser: sliders, view, traces, what leaves the page, and both vehicles."""

from __future__ import annotations

import json
import re
import urllib.error
import urllib.request
from collections.abc import Callable
from typing import Any

import pytest
from served import PHONE, SCREEN, OpenPage, Server


def opened(server: Server, open_page: OpenPage, programme: int = 1, **how: Any) -> Any:
    page = open_page(**how)
    page.goto(f"{server.url}/work/{programme}/geometry")
    page.wait_for_selector(".minis .mini")
    return page


def test_sliders_move_the_axle_its_figures_and_its_traces(server: Server, open_page: OpenPage) -> None:
    page = opened(server, open_page)
    drawn = page.locator(".is-kit .m-rod").first.get_attribute("points")
    told = page.locator(".linkage tbody").inner_text()
    page.locator("#move-travel").focus()
    for _ in range(5):
        page.keyboard.press("ArrowRight")
    assert page.locator("output[for=move-travel]").inner_text().replace("\xa0", " ") == "5 mm"
    assert page.locator(".is-kit .m-rod").first.get_attribute("points") != drawn
    assert page.locator(".linkage tbody").inner_text() != told
    assert "bump up 5" in page.locator(".linkage-svg > title").text_content().replace("\xa0", " ")
    page.locator(".linkage summary").click()
    before = page.locator(".m-trace").count()
    page.get_by_label("track rod on axle").check()
    assert page.locator(".m-trace").count() == before + 2
    page.get_by_role("button", name="Back to ride height").click()
    assert page.locator(".is-kit .m-rod").first.get_attribute("points") == drawn


def test_the_view_turns_by_keys_and_pointer_and_keeps_its_scale(server: Server, open_page: OpenPage) -> None:
    page = opened(server, open_page)
    box = page.locator(".linkage-svg").get_attribute("viewBox")
    seen = {page.locator(".is-kit .m-tyre").first.get_attribute("points")}
    for name in ("Front", "Side", "Top"):
        page.get_by_role("button", name=name, exact=True).click()
        seen.add(page.locator(".is-kit .m-tyre").first.get_attribute("points"))
    page.locator(".linkage-svg").focus()
    page.keyboard.press("ArrowLeft")
    seen.add(page.locator(".is-kit .m-tyre").first.get_attribute("points"))
    assert len(seen) == 5
    assert page.locator(".linkage-svg").get_attribute("viewBox") == box
    # from the front the wheel centres stand as far apart as the programme says, in millimetres
    page.get_by_role("button", name="Front", exact=True).click()
    xs = page.locator(".is-stock .m-axle").evaluate_all(
        "all => all.map(a => a.getAttribute('points').split(' ').map(p => Number(p.split(',')[0])))"
    )
    assert max(max(x) - min(x) for x in xs) == pytest.approx(1500.0, abs=2.0)


def test_the_axle_leaves_as_picture_and_figures(server: Server, open_page: OpenPage) -> None:
    page = opened(server, open_page)
    for words, begins in (("SVG", b"<svg"), ("PNG", b"\x89PNG"), ("Points, CSV", b"state"), ("Curves, CSV", b"state")):
        with page.expect_download() as got:
            page.locator(".linkage .tools button", has_text=re.compile(f"^{words}$")).click()
        with open(got.value.path(), "rb") as file:
            text = file.read()
        assert text.startswith(begins)
        assert words != "SVG" or b"var(--" not in text


def test_the_panel_fits_and_is_accessible(
    server: Server, open_page: OpenPage, serious: Callable[..., list[str]]
) -> None:
    page = opened(server, open_page, 2)
    page.locator("#hand-end").select_option("rear")
    page.wait_for_function("() => document.querySelector('.linkage-svg title').textContent.startsWith('Rear')")
    assert page.evaluate("document.documentElement.scrollWidth") <= SCREEN[0]
    assert serious(page) == []
    page.set_viewport_size({"width": PHONE[0], "height": PHONE[1]})
    page.emulate_media(color_scheme="dark")
    page.wait_for_function("document.body.classList.contains('body--dark')")
    page.wait_for_function(f"document.documentElement.scrollWidth <= {PHONE[0]}")
    assert serious(page, only=("color-contrast", "target-size")) == []


def test_poses_are_plain_json_in_tenths_of_a_millimetre(server: Server) -> None:
    with urllib.request.urlopen(f"{server.url}/linkage/1/1/rear") as answer:
        told = json.load(answer)
    sizes = [len(s["values"]) for s in told["sliders"]]
    assert len(told["models"][0]["points"]) == sizes[0] * sizes[1] * sizes[2] * len(told["spots"]) * 3
    with pytest.raises(urllib.error.HTTPError, match="404"):
        urllib.request.urlopen(f"{server.url}/linkage/1/1/middle")
