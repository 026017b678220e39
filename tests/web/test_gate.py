"""Who may come in, from where, and how: accounts, sessions, tokens, origins, and the brake on guessing."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import pytest
from fastapi import FastAPI, WebSocket
from fastapi.testclient import TestClient
from starlette.websockets import WebSocketDisconnect

from tussock.errors import InputError
from tussock.store import Store, open_store
from tussock.web.desk import Desk
from tussock.web.plain import add_plain, must_sign_in
from tussock.web.signing import COOKIE, Throttle, TooManyTries, password_hash

PASSWORD = "moor road at dawn"
BODY = {"text": "format: 1"}


@pytest.fixture(scope="module")
def store(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    with open_store(tmp_path_factory.mktemp("gate") / "store.sqlite") as opened:
        hashed = password_hash(PASSWORD)
        for name, role in (("Anna", "admin"), ("Mira", "engineer"), ("Olaf", "reader")):
            opened.accounts.add(name, role, hashed)  # type: ignore[arg-type]
        yield opened


def app_over(store: Store, *, accounts: bool) -> FastAPI:
    app = FastAPI()
    add_plain(app, Desk(store), accounts=accounts, local="workshop")

    @app.websocket("/live")
    async def live(socket: WebSocket) -> None:
        await socket.accept()
        await socket.send_text("in")
        await socket.close()

    return app


@pytest.fixture
def here(store: Store) -> Iterator[TestClient]:
    """On this machine, where nobody signs in."""
    with TestClient(app_over(store, accounts=False), base_url="http://127.0.0.1") as one:
        yield one


@pytest.fixture
def away(store: Store) -> Iterator[TestClient]:
    """From another machine."""
    app = app_over(store, accounts=True)
    with TestClient(app, base_url="https://bench.example", follow_redirects=False) as one:
        yield one


def sign_in(client: TestClient, name: str, password: str = PASSWORD, **more: str) -> Any:
    token = re.search(r'name="token" value="([0-9a-f]+)"', client.get("/login").text)
    assert token
    return client.post("/login", data={"name": name, "password": password, "token": token[1], **more})


def token(client: TestClient) -> dict[str, str]:
    return {"X-Tussock-Token": client.get("/api/session").json()["token"]}


def test_on_this_machine_nobody_signs_in(here: TestClient) -> None:
    assert here.get("/api/session").json() | {"token": ""} == {"user": "workshop", "role": "admin", "token": ""}


def test_a_foreign_name_that_leads_here_finds_nothing(here: TestClient) -> None:
    assert here.get("/api/programmes", headers={"Host": "elsewhere.example"}).status_code == 421


@pytest.mark.parametrize("headers", [{}, {"X-Tussock-Token": "wrong"}])
def test_a_change_without_the_token_is_refused(here: TestClient, headers: dict[str, str]) -> None:
    assert here.post("/api/programmes", json=BODY, headers=headers).status_code == 403


@pytest.mark.parametrize(
    "headers",
    [
        {"Origin": "http://elsewhere.example"},
        {"Origin": "null"},
        {"Origin": "http://127.0.0.1:9999"},
        {"Sec-Fetch-Site": "cross-site"},
        {"Sec-Fetch-Site": "same-site"},
    ],
)
def test_a_change_from_a_page_of_another_address_is_refused(here: TestClient, headers: dict[str, str]) -> None:
    answer = here.post("/api/programmes", json=BODY, headers={**headers, **token(here)})
    assert answer.status_code == 403
    assert "another address" in answer.json()["error"]["message"]


def test_a_change_from_its_own_page_passes_the_gate(here: TestClient) -> None:
    headers = {"Origin": "http://127.0.0.1", **token(here)}
    assert here.post("/api/programmes", json=BODY, headers=headers).status_code == 422  # the programme is wrong


@pytest.mark.parametrize(
    ("headers", "may"),
    [({"Origin": "http://127.0.0.1"}, True), ({"Origin": "http://elsewhere.example"}, False), ({}, False)],
)
def test_a_websocket_opens_for_a_page_of_this_server_alone(
    here: TestClient, headers: dict[str, str], may: bool
) -> None:
    headers = {"Host": "127.0.0.1", **headers}
    if may:
        with here.websocket_connect("/live", headers=headers) as socket:
            assert socket.receive_text() == "in"
    else:
        with pytest.raises(WebSocketDisconnect), here.websocket_connect("/live", headers=headers):
            pass


def test_without_an_account_nothing_but_the_empty_page_is_seen(away: TestClient) -> None:
    assert away.get("/api/programmes").status_code == 401
    assert away.get("/phone").status_code == 200
    page = away.get("/work/1/travel?build=B2", headers={"Accept": "text/html"})
    assert (page.status_code, page.headers["location"]) == (303, "/login?next=/work/1/travel%3Fbuild%3DB2")
    with (
        pytest.raises(WebSocketDisconnect),
        away.websocket_connect("/live", headers={"Host": "bench.example", "Origin": "https://bench.example"}),
    ):
        pass


def test_signing_in_and_out(away: TestClient) -> None:
    answer = sign_in(away, " mira ", next="/phone")
    assert (answer.status_code, answer.headers["location"]) == (303, "/phone")
    cookie = answer.headers["set-cookie"]
    assert COOKIE in cookie
    for word in ("HttpOnly", "SameSite=lax", "Secure"):
        assert word in cookie
    assert away.get("/api/session").json()["user"] == "Mira"
    assert away.get("/api/programmes").status_code == 200
    assert away.post("/logout", headers={"Origin": "https://bench.example"}).status_code == 303
    assert away.get("/api/session").status_code == 401


def test_after_signing_in_nobody_is_led_elsewhere(away: TestClient) -> None:
    assert sign_in(away, "Mira", next="//elsewhere.example/").headers["location"] == "/"


def test_a_sign_in_without_the_forms_token_is_refused(away: TestClient) -> None:
    answer = away.post("/login", data={"name": "Mira", "password": PASSWORD, "token": "0" * 64})
    assert answer.status_code == 403


def test_a_reader_reads(away: TestClient) -> None:
    sign_in(away, "Olaf")
    assert away.get("/api/programmes").status_code == 200
    answer = away.post("/api/programmes", json=BODY, headers=token(away))
    assert answer.status_code == 403
    assert "role engineer" in answer.json()["error"]["message"]


def test_wrong_passwords_are_slowed_and_say_nothing_of_the_name(away: TestClient) -> None:
    first = sign_in(away, "Anna", "not this one")
    unknown = sign_in(away, "Nobody at all", "not this one")
    assert (first.status_code, unknown.status_code) == (401, 401)
    said = [re.search(r'role="alert">(.*?)</p>', a.text) for a in (first, unknown)]
    assert [m[1] for m in said if m] == ["Name or password is wrong."] * 2
    for _ in range(3):
        sign_in(away, "Anna", "not this one")
    slowed = sign_in(away, "Anna")
    assert slowed.status_code == 429
    assert int(slowed.headers["retry-after"]) > 200


def test_the_brake_lets_go() -> None:
    now = 0.0
    brake = Throttle(tries=2, within=10.0, clock=lambda: now)
    brake.failed("a")
    brake.failed("a")
    with pytest.raises(TooManyTries):
        brake.check("a")
    brake.check("b")
    now = 10.5
    brake.check("a")


def test_a_script_in_the_name_stays_words(away: TestClient) -> None:
    answer = sign_in(away, '"><script>alert(1)</script>', "not this one", next='"><script>')
    assert "<script>" not in answer.text


def test_other_machines_are_answered_only_where_somebody_is_admin(store: Store, tmp_path: Any) -> None:
    assert must_sign_in("0.0.0.0", store)
    assert must_sign_in("127.0.0.1", store, accounts=True)
    assert not must_sign_in("127.0.0.1", store)
    with open_store(tmp_path / "empty.sqlite") as empty:
        assert not must_sign_in("127.0.0.1", empty)
        for host, accounts in (("0.0.0.0", False), ("127.0.0.1", True)):
            with pytest.raises(InputError, match="tussock user add"):
                must_sign_in(host, empty, accounts=accounts)


@pytest.mark.parametrize("path", ["/phone", "/api/programmes", "/work/1/travel"])
def test_every_answer_carries_its_policy(here: TestClient, path: str) -> None:
    headers = here.get(path).headers
    policy = headers["content-security-policy"]
    assert "frame-ancestors 'none'" in policy
    assert "http" not in policy
    assert ("unsafe" in policy) == path.startswith("/work")
    assert headers["x-content-type-options"] == "nosniff"


def test_a_short_password_is_refused() -> None:
    with pytest.raises(InputError, match="12 to 200"):
        password_hash("short")
