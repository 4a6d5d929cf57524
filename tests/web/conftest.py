"""A workshop with one commission, its app asked without a browser, and the same app with a browser before it."""

from __future__ import annotations

import os
import shutil
import socket
import threading
import time
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from ringwright.desk import shelf as desk
from ringwright.desk._looking import MEMORY_BYTES
from ringwright.desk._makings import Makings
from ringwright.desk._worker import Limits, Worker
from ringwright.desk.shelf import Shelf, open_shelf
from ringwright.web.app import make_app
from tests.desk.texts import COMMISSION, WORKSHOP

ROOT = Path(__file__).parents[2]
HERE = "http://127.0.0.1"
KEY = "ring-a"
CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
SOFTWARE = ["--no-sandbox", "--use-gl=angle", "--use-angle=swiftshader", "--enable-unsafe-swiftshader"]


@pytest.fixture(scope="session", autouse=True)
def _tests_are_found() -> Iterator[None]:
    """The process of the makings must find the tasks of the tests."""
    before = os.environ.get("PYTHONPATH")
    os.environ["PYTHONPATH"] = str(ROOT)
    yield
    if before is None:
        del os.environ["PYTHONPATH"]
    else:
        os.environ["PYTHONPATH"] = before


def workshop_in(folder: Path) -> Path:
    """A folder with one commission and its workshop."""
    folder.mkdir()
    (folder / f"{KEY}.commission.toml").write_text(COMMISSION, "utf-8")
    (folder / "workshop.toml").write_text(WORKSHOP, "utf-8")
    return folder


class Lasting(Worker):
    """A process that outlives the shelf that asks it: starting one takes seconds."""

    def end(self) -> None:
        """Stay; :func:`_processes_end` ends it."""

    def finish(self) -> None:
        super().end()


@cache
def processes() -> tuple[Lasting, Lasting]:
    """The process that makes and the one that looks, for all tests."""
    return Lasting(Limits()), Lasting(Limits(memory_bytes=MEMORY_BYTES, threads=1))


@pytest.fixture(scope="session", autouse=True)
def _processes_end() -> Iterator[None]:
    yield
    for one in processes():
        one.finish()


def opened(folder: Path) -> Shelf:
    """Its shelf, whose makings are given."""
    made = open_shelf(folder)
    made._makings = Makings("tests.web.tasks:make_ring")
    made._makings._worker, made._looking._worker = processes()
    desk.take_up(made)
    return made


def work(shelf: Shelf, key: str = KEY) -> None:
    """Work a commission through."""
    done = desk.wait_for_making(shelf, desk.start_making(shelf, key), 300)  # compiling may be part of it
    assert done.stage is desk.Stage.DONE, done


@pytest.fixture
def shelf(tmp_path: Path) -> Iterator[Shelf]:
    made = opened(workshop_in(tmp_path / "shop"))
    yield made
    made.close()


@pytest.fixture
def client(shelf: Shelf) -> Iterator[TestClient]:
    """Asks as a page of the app would."""
    yield TestClient(make_app(shelf), base_url=HERE, headers={"origin": HERE}, follow_redirects=False)


class Served:
    """An app on a port, in a thread of this process."""

    def __init__(self, shelf: Shelf, **more: Any) -> None:
        import uvicorn

        self.socket = socket.socket()
        self.socket.bind(("127.0.0.1", 0))
        self.address = f"http://127.0.0.1:{self.socket.getsockname()[1]}"
        config = uvicorn.Config(make_app(shelf, **more), log_level="warning", ws="none", timeout_graceful_shutdown=1)
        self.server = uvicorn.Server(config)
        self.thread = threading.Thread(target=self.server.run, kwargs={"sockets": [self.socket]}, daemon=True)
        self.thread.start()
        until = time.monotonic() + 20
        while not self.server.started and time.monotonic() < until:
            time.sleep(0.01)
        assert self.server.started

    def close(self) -> None:
        self.server.should_exit = True
        self.thread.join(timeout=10)
        self.socket.close()


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    """A headless Chromium that draws in software."""
    if CHROMIUM is None:
        if os.environ.get("RINGWRIGHT_CI"):
            pytest.fail("no Chromium is installed, and RINGWRIGHT_CI says that everything must run")
        pytest.skip("no Chromium is installed (apt install chromium)")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        made = playwright.chromium.launch(executable_path=CHROMIUM, args=SOFTWARE)
        yield made
        made.close()


@pytest.fixture(scope="session")
def place(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Shelf, str]]:
    """A workshop whose commission is worked through, and its app's address; tests that change take one of their own."""
    shelf = opened(workshop_in(tmp_path_factory.mktemp("web") / "shop"))
    work(shelf)
    served = Served(shelf)
    yield shelf, served.address
    served.close()
    shelf.close()


@pytest.fixture
def page(browser: Any) -> Iterator[Any]:
    """A fresh page; every request that leaves the app, and every error of a script, fails the test."""
    context = browser.new_context(
        viewport={"width": 1280, "height": 800}, accept_downloads=True, reduced_motion="reduce"
    )
    context.set_default_timeout(90_000)  # a machine with other work to do is slow; nothing waits so long otherwise
    found = context.new_page()
    outside: list[str] = []
    errors: list[str] = []
    # The browser's own reader of PDF is made of pages of the browser; they are not asked from any host.
    inside = ("http://127.0.0.1:", "blob:http://127.0.0.1:", "data:", "chrome-extension://", "chrome://")
    context.on("request", lambda request: None if request.url.startswith(inside) else outside.append(request.url))
    found.on("pageerror", lambda fault: errors.append(str(fault)))
    found.on("console", lambda told: errors.append(told.text) if "Content Security Policy" in told.text else None)
    yield found
    context.close()
    assert not outside, outside
    assert not errors, errors
