"""A served workbench and a real browser for the tests of its pages.

The server is the command that users run, in a process of its own, on a free port of 127.0.0.1 with a store in a
temporary folder. The browser is Debian's Chromium; a page fails its test on any console error, any fault of a script
and any request off the machine.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial
from typing import Any, Literal
from urllib.parse import urlsplit

import pytest
from axe_playwright_python.base import AXE_SCRIPT
from served import CHROMIUM, PATIENCE, PHONE, SCREEN, OpenPage, Server, Watched, free_port

CONTRAST = "color-contrast"
LOOKS = """() => {
  const under = new Map();  // what is behind an element, and how it lies there
  const behind = (at) => {
    if (!at) return "";
    if (!under.has(at)) {
      const s = getComputedStyle(at), own = [];
      if (s.backgroundColor !== "rgba(0, 0, 0, 0)") own.push(s.backgroundColor);
      if (s.backgroundImage !== "none") own.push(s.backgroundImage);
      if (s.opacity !== "1" || s.filter !== "none") own.push(s.opacity, s.filter);
      if (s.position !== "static") own.push(s.position, at.tagName, at.getAttribute("class"));
      under.set(at, behind(at.parentElement) + own.join(" "));
    }
    return under.get(at);
  };
  const seen = new Set();
  for (const e of document.body.querySelectorAll("*")) {
    e.removeAttribute("data-look");
    const written = [...e.childNodes].some((n) => n.nodeType === Node.TEXT_NODE && n.data.trim());
    if (!written && !e.matches("input, select, textarea")) continue;
    if (!e.checkVisibility({ visibilityProperty: true })) continue;
    const s = getComputedStyle(e);
    const look = [s.color, s.fill, s.fontSize, s.fontWeight, s.textShadow, e.matches(":disabled"), behind(e)].join("|");
    if (!seen.has(look)) e.setAttribute("data-look", "");
    seen.add(look);
  }
}"""
"""Marks one of all written words that have the same colour, size and weight over the same ground."""


@pytest.fixture(scope="session")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """One workbench for all tests of this process, over a store that began with both invented vehicles."""
    folder = tmp_path_factory.mktemp("served")
    served = Server(store=str(folder / "store.sqlite"), port=free_port(), log=folder / "log.txt")
    served.start()
    yield served
    served.stop()


@pytest.fixture(scope="module")
def own_server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """A workbench of this module's own over an empty store, which its tests may hold, stop and start."""
    folder = tmp_path_factory.mktemp("own")
    options = ("--empty", "--wait", "1")
    served = Server(store=str(folder / "store.sqlite"), port=free_port(), log=folder / "log.txt", options=options)
    served.start()
    yield served
    served.stop()


@pytest.fixture(scope="session")
def chromium() -> Iterator[Any]:
    """Debian's Chromium, one for all tests of this process: while it runs, no other event loop runs in this thread."""
    if CHROMIUM is None:
        pytest.skip("Debian's chromium is not installed; .ci/run installs it as root")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as player:
        browser = player.chromium.launch(
            executable_path=CHROMIUM, args=["--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage"]
        )
        yield browser
        browser.close()


@pytest.fixture(scope="session")
def warm(chromium: Any) -> Iterator[Any]:
    """A context that all pages on a screen share, so that scripts are fetched and compiled once."""
    context = chromium.new_context(reduced_motion="reduce")  # else axe reads colours in the middle of a slide
    yield context
    context.close()


@pytest.fixture
def watched() -> Watched:
    """Faults of the pages of this test; it may add to `allowed`."""
    return Watched()


@pytest.fixture
def watch(watched: Watched) -> Iterator[Callable[[Any], None]]:
    """Watch a page until the test ends, which fails on what went wrong in it."""
    ends: list[Callable[[], None]] = []

    def begin(page: Any) -> None:
        tells = {
            "request": lambda request: _off_the_machine(request.url, watched),
            "console": lambda m: (
                watched.wrong.append(f"console: {m.text} {m.location['url']}") if m.type == "error" else None
            ),
            "pageerror": lambda error: watched.wrong.append(f"script: {error}"),
        }
        for event, tell in tells.items():
            page.on(event, tell)
            ends.append(partial(page.remove_listener, event, tell))

    yield begin
    for end in ends:
        end()
    assert watched.left() == []


@pytest.fixture
def open_page(chromium: Any, warm: Any, watch: Callable[[Any], None]) -> Iterator[OpenPage]:
    """Open pages: `open_page(size=PHONE, scheme="dark")`. Pages of one `context` share storage, like tabs.

    Phones have a context of their own each: it has touch, and it may be taken off the network.
    """
    contexts: list[Any] = []
    pages: list[Any] = []

    def opened(
        *,
        size: tuple[int, int] = SCREEN,
        scheme: Literal["light", "dark"] = "light",
        context: Any = None,
    ) -> Any:
        if context is None and size == PHONE:
            context = chromium.new_context(has_touch=True, reduced_motion="reduce")
            contexts.append(context)
        context = context or warm
        page = context.new_page()
        page.set_default_timeout(1e3 * PATIENCE)
        page.set_viewport_size({"width": size[0], "height": size[1]})
        page.emulate_media(color_scheme=scheme)
        pages.append(page)
        watch(page)
        return page

    yield opened
    for page in pages:
        if page.context is warm and page.url.startswith("http"):
            page.evaluate("localStorage.clear()")
        page.close()
    warm.clear_cookies()
    for context in contexts:
        context.close()


def _off_the_machine(url: str, watched: Watched) -> None:
    where = urlsplit(url)
    if where.scheme in ("http", "https", "ws", "wss") and where.hostname not in ("127.0.0.1", "localhost"):
        watched.wrong.append(f"request off the machine: {url}")


@pytest.fixture
def serious() -> Callable[..., list[str]]:
    """What axe-core finds serious or critical in a page, each as one line; `only` names the rules to look at.

    Contrast takes axe most of its time, and words that look alike have the same: it judges one of each look.
    """

    def found(page: Any, *, only: tuple[str, ...] = ()) -> list[str]:
        if not page.evaluate("() => 'axe' in window"):
            page.evaluate(AXE_SCRIPT)
        every = {"rules": {CONTRAST: {"enabled": False}}}
        rest = [rule for rule in only if rule != CONTRAST]
        runs: list[tuple[Any, dict[str, Any]]] = []
        if rest or not only:
            runs.append((None, {"runOnly": rest} if rest else every))
        if CONTRAST in only or not only:
            page.evaluate(LOOKS)
            runs.append(({"include": [["[data-look]"]]}, {"runOnly": [CONTRAST]}))
        return [
            f"{v['id']}: {v['help']}: {node['html'][:200]}"
            for where, how in runs
            for v in page.evaluate(
                "([where, how]) => axe.run(where ?? document, {resultTypes: ['violations'], ...how})"
                ".then((told) => told.violations)",
                [where, how],
            )
            if v["impact"] in ("serious", "critical")
            for node in v["nodes"]
        ]

    return found
