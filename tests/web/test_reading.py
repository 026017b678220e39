"""Curves read at the pointer and by keys, in both themes, and a table on the clipboard, in a real browser."""

from __future__ import annotations

from typing import Any

import pytest
from served import SMALL, OpenPage, Server


@pytest.fixture
def page(server: Server, open_page: OpenPage) -> Any:
    """The page of the wheels' travel, its first curves drawn."""
    shown = open_page()
    shown.goto(f"{server.url}/work/{server.take(SMALL)}/travel")
    shown.locator(".chart-plot svg path").first.wait_for(state="attached")
    return shown


def test_a_curve_is_read_by_keys_and_pointer_and_follows_the_theme(page: Any) -> None:
    card = page.locator("figure.card").filter(has=page.locator(".chart-plot")).first
    plot, says = card.locator(".chart-plot"), card.get_by_role("status")
    figures = card.get_by_role("link", name="Figures, CSV").get_attribute("href")
    told = page.evaluate("(at) => fetch(at).then((answer) => answer.json())", figures.replace(".csv", ".json"))
    longest = max(told["lines"], key=lambda line: len(line["x"]))
    across = told["x"]

    def read(index: int) -> str:
        return f"{across['title']} {longest['x'][index]:.{across['digits']}f}".replace("-", "\u2212")

    plot.focus()
    for key, index in (("ArrowRight", 0), ("End", -1), ("Home", 0)):
        page.keyboard.press(key)
        says.filter(has_text=read(index)).wait_for()
    assert f"\xa0{across['unit']}" in says.text_content()
    page.keyboard.press("Escape")
    says.filter(has_text="arrow keys read the values").wait_for()
    plot.scroll_into_view_if_needed()
    box = plot.bounding_box()
    page.mouse.move(box["x"] + 0.4 * box["width"], box["y"] + 0.5 * box["height"])
    plot.get_by_text(across["title"], exact=False).and_(plot.locator("div")).filter(has_text=across["unit"]).wait_for()
    colours = "() => [...document.querySelectorAll('.chart-plot svg path')].map((p) => p.getAttribute('stroke')).join()"
    light = page.evaluate(colours)
    page.get_by_role("button", name="Light or dark").click()
    page.wait_for_function(f"(before) => ({colours})() !== before", arg=light)


def test_a_table_is_copied_as_text(page: Any) -> None:
    page.context.grant_permissions(["clipboard-read", "clipboard-write"])
    table = page.locator("table").first
    page.get_by_role("button", name="Copy as text").first.click()
    page.get_by_text("Copied as text").wait_for()
    lines = page.evaluate("navigator.clipboard.readText()").splitlines()
    assert lines[0] == table.locator("caption").inner_text()
    heads = table.locator("thead th").all_inner_texts()
    assert [head.lower() for head in lines[1].split("\t")] == [head.lower() for head in heads]
    assert len(lines) >= 2 + table.locator("tbody tr").count()
