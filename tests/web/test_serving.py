"""Serving: on this machine alone, or in its network behind a passphrase, with a certificate or without."""

from __future__ import annotations

import http.client
import os
import shutil
import signal
import socket
import ssl
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from types import SimpleNamespace
from typing import Any
from urllib.parse import urlencode, urlsplit

import pytest

from ringwright import cli
from ringwright.terms.remark import Level
from ringwright.web import serving
from ringwright.web.serving import LOOPBACK, own_address
from tests.web.conftest import KEY, workshop_in

PASSPHRASE = "four plain words here"
OWN = own_address()
in_a_network = pytest.mark.skipif(
    OWN.startswith("127.") or not OWN[:1].isdigit(), reason="this machine has no address of its own in a network"
)


@contextmanager
def served(folder: Path, *more: str, passphrase: str = PASSPHRASE) -> Iterator[tuple[str, subprocess.Popen[str]]]:
    command = [str(Path(sys.executable).with_name("ringwright")), "serve", str(folder), "--port", "0", *more]
    environment = os.environ | {"RINGWRIGHT_PASSPHRASE": passphrase}
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=environment)
    assert process.stdout is not None and process.stderr is not None
    try:
        yield process.stdout.readline().strip(), process
    finally:
        process.send_signal(signal.SIGINT)
        process.wait(timeout=30)
        process.stdout.close()
        process.stderr.close()


def ask(
    address: str,
    method: str,
    path: str,
    form: dict[str, str] | None = None,
    trusted: Path | None = None,
    **headers: str,
) -> tuple[int, dict[str, str], str]:
    """One request as a browser would send it, but to any address and with any headers."""
    parts = urlsplit(address)
    assert parts.hostname is not None
    until = time.monotonic() + 30
    while True:
        try:
            line: http.client.HTTPConnection = (
                http.client.HTTPSConnection(
                    parts.hostname, parts.port, context=ssl.create_default_context(cafile=trusted), timeout=30
                )
                if parts.scheme == "https"
                else http.client.HTTPConnection(parts.hostname, parts.port, timeout=30)
            )
            sent = {"Origin": address.rstrip("/")} if method == "POST" else {}
            sent |= {"Content-Type": "application/x-www-form-urlencoded"} if form is not None else {}
            sent |= {name.replace("_", "-").title(): value for name, value in headers.items()}
            line.request(method, path, urlencode(form) if form is not None else None, sent)
            answer = line.getresponse()
            return answer.status, {k.lower(): v for k, v in answer.getheaders()}, answer.read().decode()
        except ConnectionRefusedError:
            assert time.monotonic() < until
            time.sleep(0.1)
        finally:
            line.close()


def come_in(address: str, trusted: Path | None = None) -> str:
    """Give the passphrase; the cookie."""
    status, heads, _text = ask(address, "POST", "/login", {"passphrase": PASSPHRASE, "next": "/"}, trusted)
    assert (status, heads["location"]) == (303, "/")
    cookie: str = heads["set-cookie"]
    return cookie


@in_a_network
def test_in_the_network_the_passphrase_is_asked_for_at_every_address(tmp_path: Path) -> None:
    with served(workshop_in(tmp_path / "shop"), "--lan") as (address, _process):
        assert address.startswith(f"http://{OWN}:")
        port = urlsplit(address).port
        for here in (address, f"http://{LOOPBACK}:{port}"):
            status, heads, text = ask(here, "GET", f"/c/{KEY}")
            assert (status, heads["location"]) == (303, f"/login?next=/c/{KEY}") and "sapphire" not in text
        assert ask(address, "POST", f"/c/{KEY}/work", {})[0] == 401
        assert ask(address, "GET", "/", host="evil.example")[0] == 400
        assert ask(address, "GET", "/", host=f"{OWN}:1")[0] == 400
        for origin in ("http://evil.example", "null", f"http://{LOOPBACK}:{port}"):
            assert ask(address, "POST", "/login", {"passphrase": PASSPHRASE}, origin=origin)[0] == 403

        status, heads, text = ask(address, "POST", "/login", {"passphrase": "a wrong guess"})
        assert status == 403 and "set-cookie" not in heads and "not the passphrase" in text
        status, _heads, text = ask(address, "POST", "/login", {"passphrase": PASSPHRASE})
        assert status == 429 and "before the next try" in text, "who was wrong must wait, even with the right one"
        time.sleep(2.2)
        cookie = come_in(address)
        assert "secure" not in cookie.lower() and "httponly" in cookie.lower()
        status, _heads, text = ask(address, "GET", f"/c/{KEY}", cookie=cookie.split(";")[0])
        assert status == 200 and "Oval sapphire ring" in text
        assert ask(address, "GET", "/", cookie=f"{cookie.split(';')[0]}x")[0] == 303


@in_a_network
def test_on_this_machine_alone_nobody_else_is_answered(tmp_path: Path) -> None:
    with served(workshop_in(tmp_path / "shop")) as (address, _process):
        assert ask(address, "GET", "/")[0] == 200
        with pytest.raises(OSError), socket.create_connection((OWN, urlsplit(address).port or 0), timeout=5):
            pass


@in_a_network
@pytest.mark.skipif(shutil.which("openssl") is None, reason="no openssl is there to make a certificate with")
def test_with_a_certificate_nobody_can_listen(tmp_path: Path) -> None:
    certificate, key = tmp_path / "own.pem", tmp_path / "own.key"
    names = f"subjectAltName=IP:{OWN}"
    subprocess.run(
        ["openssl", "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:prime256v1", "-nodes", "-days", "2",
         "-subj", "/CN=the bench", "-addext", names, "-keyout", str(key), "-out", str(certificate)],
        check=True, capture_output=True,
    )  # fmt: skip
    more = ("--lan", "--certificate", str(certificate), "--key", str(key))
    with served(workshop_in(tmp_path / "shop"), *more) as (address, _process):
        assert address.startswith(f"https://{OWN}:")
        cookie = come_in(address, certificate)
        assert "secure" in cookie.lower()
        status, _heads, text = ask(address, "GET", f"/c/{KEY}", trusted=certificate, cookie=cookie.split(";")[0])
        assert status == 200 and "Oval sapphire ring" in text
        assert ask(address, "POST", "/login", {"passphrase": PASSPHRASE}, certificate, origin=f"http://{OWN}")[0] == 403
        with pytest.raises(ssl.SSLError):
            ask(address, "GET", "/")


@pytest.mark.parametrize(
    ("more", "says"),
    [
        (("--lan",), "it has 5 letters; give at least 12"),
        (("--certificate", "none.pem"), "a certificate and its key go together"),
        (("--certificate", "none.pem", "--key", "none.key"), "it cannot be used (No such file or directory)"),
        (("--certificate", __file__, "--key", __file__), "--certificate: it cannot be used"),
    ],
)
def test_what_cannot_be_served_is_said_in_one_sentence(
    tmp_path: Path,
    more: tuple[str, ...],
    says: str,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    monkeypatch.setenv("RINGWRIGHT_PASSPHRASE", "short")
    assert cli.run(["serve", str(tmp_path / "shop"), "--port", "0", *more]) == cli.BAD_INPUT
    told = capsys.readouterr().err
    assert says in told and "Traceback" not in told


@pytest.mark.parametrize(
    ("asked", "screen", "opens"),
    [((), True, True), ((), False, False), (("--open",), False, True), (("--no-open",), True, False),
     (("--json",), True, False)],
)  # fmt: skip
def test_the_demo_opens_its_page_where_that_is_asked_or_seen(
    asked: tuple[str, ...], screen: bool, opens: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from ringwright.cli import show
    from ringwright.desk import demo, planning

    seen: list[serving.Serving] = []
    done = SimpleNamespace(verdict=Level.FINE)
    monkeypatch.setattr(demo, "write_demo", lambda folder, _today: (folder / "a", folder / "b"))
    monkeypatch.setattr(planning, "plan", lambda _path, **_more: done)
    monkeypatch.setattr(show, "planned", lambda _done: None)
    monkeypatch.setattr(show, "planned_data", lambda _done: {})
    monkeypatch.setattr(serving, "serve", lambda how, _ready: seen.append(how))
    monkeypatch.setattr(cli, "_has_screen", lambda: screen)
    assert cli.run(["demo", str(tmp_path / "demo"), *asked]) == cli.DONE
    assert [(one.folder, one.lan) for one in seen] == ([(tmp_path / "demo", False)] if opens else [])


def test_a_screen_is_seen_only_at_a_terminal_with_a_display(monkeypatch: pytest.MonkeyPatch) -> None:
    def at(terminal: bool, **environment: str) -> bool:
        for name in ("DISPLAY", "WAYLAND_DISPLAY", "SSH_CONNECTION"):
            monkeypatch.delenv(name, raising=False)
        for name, value in environment.items():
            monkeypatch.setenv(name, value)
        own: Any = SimpleNamespace(isatty=lambda: terminal)
        monkeypatch.setattr(cli.sys, "stdin", own)
        monkeypatch.setattr(cli.sys, "stdout", own)
        return cli._has_screen()

    monkeypatch.setattr(cli.sys, "platform", "linux")
    assert at(True, DISPLAY=":0") and at(True, WAYLAND_DISPLAY="wayland-0")
    assert not at(False, DISPLAY=":0") and not at(True) and not at(True, DISPLAY=":0", SSH_CONNECTION="a b")
    monkeypatch.setattr(cli.sys, "platform", "darwin")
    assert at(True)
