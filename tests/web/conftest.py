"""A served workbench and a real browser for the tests of its pages.

The server is the command that users run, in a process of its own, on a free port of 127.0.0.1 with a store in a
temporary folder. The browser is Debian's Chromium; a page fails its test on any console error, any fault of a script
and any request off the machine.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path
from typing import Any, Literal
from urllib.parse import urlsplit

import pytest
from served import CHROMIUM, PHONE, SCREEN, OpenPage, Server, Watched, free_port


@pytest.fixture(scope="session")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """One workbench for all tests of this process, over a store that began with both invented vehicles."""
    folder = tmp_path_factory.mktemp("served")
    served = Server(store=str(folder / "store.sqlite"), port=free_port(), log=folder / "log.txt")
    served.start()
    yield served
    served.stop()


@pytest.fixture
def own_server(tmp_path: Path) -> Iterator[Server]:
    """A workbench of this test's own, which it may stop and start."""
    served = Server(store=str(tmp_path / "store.sqlite"), port=free_port(), log=tmp_path / "log.txt")
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
            executable_path=CHROMIUM, args=["--no-sandbox", "--use-angle=swiftshader", "--disable-dev-shm-usage"]
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
        page.set_default_timeout(20_000)
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

    Of a long table it reads the first rows: the others are made alike, and it would read them for seconds. What all
    pages have around their answer may be left out by `beside`.
    """

    def found(page: Any, *, only: tuple[str, ...] = (), beside: tuple[str, ...] = ()) -> list[str]:
        from axe_playwright_python.sync_playwright import Axe

        options: dict[str, Any] = {"resultTypes": ["violations"]}
        if only:
            options["runOnly"] = list(only)
        left_out = [["tbody tr:nth-child(n+5)"], *([name] for name in beside)]
        violations = Axe().run(page, context={"exclude": left_out}, options=options).response
        return [
            f"{v['id']}: {v['help']}: {node['html'][:200]}"
            for v in violations["violations"]
            if v["impact"] in ("serious", "critical")
            for node in v["nodes"]
        ]

    return found
