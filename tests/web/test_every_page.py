"""Every page in a real browser: on screen and phone, light and dark, by keyboard, and to whoever cannot see it.

What it offers to take away is there. Nothing reaches for another machine and no console error is left; axe-core (Deque,
independent of this project, rules after WCAG 2.2) finds nothing serious. Long studies are opened, not run.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from served import PATIENCE, PHONE, SCREEN, SMALL, Server, taken_out

from tussock.web.places import PLACES
from tussock.web.shell import ABOUT

WAYS = ((SCREEN, "light"), (PHONE, "light"), (PHONE, "dark"), (SCREEN, "dark"))
READ: dict[tuple[tuple[int, int], str], tuple[str, ...]] = {
    (SCREEN, "light"): (),
    (SCREEN, "dark"): ("color-contrast",),
}
"""Where axe-core reads the page, and by which of its rules: by all once, and in the dark by what a theme moves."""


@pytest.fixture(scope="module")
def small(server: Server) -> int:
    """Number of a programme of these tests' own."""
    return server.take(SMALL)


@pytest.fixture(scope="module")
def tab(warm: Any) -> Iterator[Any]:
    """One tab for all pages, as somebody walks through them."""
    page = warm.new_page()
    page.set_default_timeout(1e3 * PATIENCE)
    yield page
    page.close()


@pytest.mark.parametrize("place", ["", *PLACES, *(name for name, _ in ABOUT)])
def test_a_page_fits_its_screen_and_reads_well(
    server: Server, small: int, tab: Any, watch: Callable[[Any], None], serious: Callable[..., list[str]], place: str
) -> None:
    watch(tab)
    tab.set_viewport_size({"width": SCREEN[0], "height": SCREEN[1]})
    tab.emulate_media(color_scheme="light")
    tab.goto(f"{server.url}/work/{small}/{place}" if place else server.url)
    tab.get_by_role("heading", level=1).wait_for()
    tab.get_by_text("Computing").wait_for(state="detached")
    for size, scheme in WAYS:
        tab.set_viewport_size({"width": size[0], "height": size[1]})
        tab.emulate_media(color_scheme=scheme)
        tab.wait_for_function(f"document.body.classList.contains('body--{scheme}')")
        tab.wait_for_function(f"document.documentElement.scrollWidth <= {size[0]}")
        if (size, scheme) in READ:
            assert serious(tab, only=READ[size, scheme]) == [], (size, scheme)
    if place == "modes":
        # Regression: figures of hundredths over an axis of a few hertz lost their labels
        tab.locator("svg text", has_text=re.compile(r"^0\.01$")).first.wait_for()
    count, wrong = taken_out(tab)
    assert wrong == []
    tables = tab.get_by_role("button", name="Copy as text").count()
    pictures = tab.locator("figure.card").count()
    assert count >= tables + pictures + 2 * bool(pictures)
