"""A team behind a proxy that ends https, in a real browser: signing in, a save over the websocket, safe cookies."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from proxied import https_before
from served import PATIENCE, SMALL, OpenPage, Server, free_port

from tussock.store import open_store
from tussock.web.signing import COOKIE, password_hash

PASSWORD = "moor road at dawn"


@pytest.fixture
def behind(tmp_path: Path) -> Iterator[str]:
    """Address by https of a workbench that asks people to sign in."""
    place = tmp_path / "store.sqlite"
    with open_store(place) as store:
        for name, role in (("Anna", "admin"), ("Mira", "engineer")):
            store.accounts.add(name, role, password_hash(PASSWORD))  # type: ignore[arg-type]
        store.programmes.create(SMALL, author="Anna", note="first")
    served = Server(store=str(place), port=free_port(), log=tmp_path / "log.txt", options=("--accounts",))
    served.start()
    try:
        with https_before(served.port) as address:
            yield address
    finally:
        served.stop()


def test_signing_in_saving_and_leaving_by_https(behind: str, chromium: Any, open_page: OpenPage) -> None:
    context = chromium.new_context(ignore_https_errors=True, reduced_motion="reduce")
    context.set_default_timeout(1e3 * PATIENCE)
    page = open_page(context=context)
    page.goto(f"{behind}/work/1/targets")
    page.wait_for_url(f"{behind}/login?next=/work/1/targets")
    page.get_by_label("Name").fill("Mira")
    page.get_by_label("Password").fill(PASSWORD)
    with page.expect_response(re.compile("/work/1/targets$")) as answered:
        page.get_by_role("button", name="Sign in").click()
    assert answered.value.headers["strict-transport-security"]
    box = page.get_by_role("complementary", name="What moves it").get_by_label("Front", exact=True).first
    box.fill("41 mm")
    box.press("Enter")
    page.get_by_role("status").filter(has_text="Saved as version 2").wait_for()
    assert page.request.get(f"{behind}/api/programmes/1").json()["newest"]["author"] == "Mira"
    kept = {cookie["name"]: cookie for cookie in context.cookies()}
    assert COOKIE in kept
    assert [name for name, cookie in kept.items() if not (cookie["secure"] and cookie["httpOnly"])] == []
    page.goto(behind)
    page.get_by_role("button", name="Sign out").click()
    page.wait_for_url(f"{behind}/login")
    assert page.request.get(f"{behind}/api/programmes").status == 401
    context.close()
