"""Who may ask and how much: host, origin, sessions, the size of what comes, and names that are no paths."""

from __future__ import annotations

import asyncio
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest
from starlette.testclient import TestClient
from starlette.websockets import WebSocketDisconnect

from ringwright.desk.shelf import LARGEST_UPLOAD_BYTES, Shelf
from ringwright.terms.mistake import BadInput
from ringwright.web import guard
from ringwright.web.app import make_app
from ringwright.web.passphrase import SESSION_S, Door
from tests.web.conftest import HERE, KEY, work

PASSPHRASE = "four plain words here"


def asked(client: TestClient, method: str, path: str, **headers: str) -> int:
    return client.request(method, path, headers=headers).status_code


@pytest.mark.parametrize("host", ["evil.example", "evil.example:80", "127.0.0.1.evil.example", "127.0.0.1:81", ""])
def test_a_foreign_host_is_refused(client: TestClient, host: str) -> None:
    answer = client.get("/", headers={"host": host})
    assert answer.status_code == 400
    assert "not one of this app's" in answer.text


@pytest.mark.parametrize("host", ["127.0.0.1", "localhost", "127.0.0.1:80"])
def test_own_hosts_are_let_in(client: TestClient, host: str) -> None:
    assert client.get("/", headers={"host": host, "origin": f"http://{host}"}).status_code == 200


@pytest.mark.parametrize("origin", ["http://evil.example", "null", "http://127.0.0.1:81", "https://127.0.0.1"])
def test_a_foreign_origin_is_refused_for_reading_and_writing(client: TestClient, origin: str) -> None:
    assert asked(client, "GET", "/", origin=origin) == 403
    assert asked(client, "POST", f"/c/{KEY}/work", origin=origin) == 403


def test_what_changes_something_must_name_its_origin(shelf: Shelf) -> None:
    bare = TestClient(make_app(shelf), base_url=HERE)
    assert bare.post(f"/c/{KEY}/work").status_code == 403
    assert bare.get("/").status_code == 200
    assert (
        asked(bare, "GET", f"/c/{KEY}/making", **{"sec-fetch-site": "cross-site", "sec-fetch-mode": "no-cors"}) == 403
    )


def test_a_socket_is_refused(client: TestClient) -> None:
    with pytest.raises(WebSocketDisconnect) as fault, client.websocket_connect("/"):
        pass
    assert fault.value.code == 1008


def test_what_comes_is_counted_even_where_its_length_is_not_told(client: TestClient) -> None:
    def parts() -> Iterator[bytes]:
        for _ in range(5):
            yield b"a" * (1 << 20)

    assert client.post("/workshop", content=b"text=a", headers={"content-length": str(5 << 20)}).status_code == 413
    answer = client.post("/workshop", content=parts())
    assert answer.status_code == 413
    assert answer.text == "More than 4 MiB are not taken."
    assert guard.LARGEST_FORM_BYTES < 5 << 20 < LARGEST_UPLOAD_BYTES


def test_an_upload_of_200_mb_is_refused(client: TestClient) -> None:
    came = 0

    def parts() -> Iterator[bytes]:
        nonlocal came
        for _ in range(200):
            came += 1 << 20
            yield b"\0" * (1 << 20)

    answer = client.post("/models", content=parts(), headers={"x-file-name": "big.stl"})
    assert answer.status_code == 413
    assert answer.text == "More than 128 MiB are not taken."


def test_every_answer_says_what_may_run(client: TestClient) -> None:
    for path in ("/", f"/c/{KEY}", "/nothing", "/look/style.css"):
        policy = client.get(path).headers["content-security-policy"]
        assert "default-src 'none'" in policy and "unsafe" not in policy and "http" not in policy
    refused = client.get("/", headers={"host": "evil.example"})
    assert refused.headers["x-content-type-options"] == "nosniff"


@pytest.mark.parametrize(
    "name",
    [
        "../ring-a.commission.toml",
        "..%2f..%2fworkshop.toml",
        "%2fetc%2fpasswd",
        "fields%2f%2e%2e%2fdossier.json",
        "a.pdf",
    ],
)
def test_no_name_from_outside_is_a_path(client: TestClient, shelf: Shelf, name: str) -> None:
    work(shelf)
    assert client.get(f"/c/{KEY}/file/dossier.json").status_code == 200
    assert client.get(f"/c/{KEY}/file/{name}").status_code == 404
    assert client.get(f"/look/{name}").status_code == 404
    assert client.get(f"/c/{name}").status_code == 404


class Clock:
    def __init__(self) -> None:
        self.now = 0.0

    def __call__(self) -> float:
        return self.now


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def lan(shelf: Shelf, clock: Clock) -> Any:
    door = Door(PASSPHRASE, pause_s=0.2, clock=clock)
    return TestClient(make_app(shelf, door=door), base_url=HERE, headers={"origin": HERE}, follow_redirects=False)


def test_without_the_passphrase_nothing_is_shown(lan: TestClient) -> None:
    for path in ("/", f"/c/{KEY}", "/facts", f"/c/{KEY}/file/dossier.json"):
        answer = lan.get(path)
        assert (answer.status_code, answer.headers["location"]) == (303, f"/login?next={path}")
        assert "sapphire" not in answer.text
    assert lan.post(f"/c/{KEY}/work").status_code == 401
    assert lan.post("/models", content=b"solid").status_code == 401
    assert lan.get("/login").status_code == 200
    assert lan.get("/look/style.css").status_code == 200


def test_a_wrong_passphrase_takes_longer_each_time(lan: TestClient, clock: Clock) -> None:
    begun = time.monotonic()
    wrong = lan.post("/login", data={"passphrase": "guess"})
    assert wrong.status_code == 403 and "that is not the passphrase" in wrong.text.lower()
    assert time.monotonic() - begun > 0.2
    assert "set-cookie" not in wrong.headers
    at_once = lan.post("/login", data={"passphrase": PASSPHRASE})
    assert at_once.status_code == 429 and "before the next try" in at_once.text
    clock.now += 0.5
    assert lan.post("/login", data={"passphrase": "guess"}).status_code == 403
    clock.now += 0.5
    assert lan.post("/login", data={"passphrase": PASSPHRASE}).status_code == 429
    clock.now += 0.4
    assert lan.post("/login", data={"passphrase": PASSPHRASE}).status_code == 303


def test_a_session_ends(lan: TestClient, clock: Clock) -> None:
    entered = lan.post("/login", data={"passphrase": PASSPHRASE, "next": f"/c/{KEY}"})
    assert (entered.status_code, entered.headers["location"]) == (303, f"/c/{KEY}")
    cookie = entered.headers["set-cookie"].lower()
    assert "httponly" in cookie and "samesite=strict" in cookie
    assert lan.get("/").status_code == 200
    clock.now += SESSION_S - 1
    assert lan.get("/").status_code == 200
    clock.now += SESSION_S + 1
    assert lan.get("/").status_code == 303
    clock.now += 1
    assert lan.post("/login", data={"passphrase": PASSPHRASE}).status_code == 303
    assert lan.post("/logout").status_code == 303
    assert lan.get("/").status_code == 303


@pytest.mark.parametrize("onward", ["//evil.example", "https://evil.example/", "/\\evil.example"])
def test_the_way_in_leads_only_within(lan: TestClient, onward: str) -> None:
    assert lan.post("/login", data={"passphrase": PASSPHRASE, "next": onward}).headers["location"] == "/"


def test_a_short_passphrase_is_no_passphrase() -> None:
    with pytest.raises(BadInput, match="it has 5 letters; give at least 12"):
        Door("short")


def test_the_passphrase_itself_is_not_kept() -> None:
    door = Door(PASSPHRASE, pause_s=0)
    with ThreadPoolExecutor(1) as aside:  # a browser may have this thread's loop
        token = aside.submit(asyncio.run, door.enter("a", PASSPHRASE)).result()
    assert token is not None and door.knows(token) and not door.knows("guess")
    held = repr(vars(door))
    assert PASSPHRASE not in held and token not in held
