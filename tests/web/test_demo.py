"""The demo as a person meets it: first page, a real making, a paper in the hand; and a server that is killed."""

from __future__ import annotations

import datetime as dt
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from ringwright.desk.demo import write_demo

pytestmark = [pytest.mark.browser, pytest.mark.slow]

LONGEST_MS = 600_000


@contextmanager
def served(folder: Path, *more: str, **environment: str) -> Iterator[tuple[str, subprocess.Popen[str]]]:
    command = [str(Path(sys.executable).with_name("ringwright")), "serve", str(folder), "--port", "0", *more]
    process = subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=os.environ | environment
    )
    assert process.stdout is not None and process.stderr is not None
    try:
        yield process.stdout.readline().strip(), process
    finally:
        process.send_signal(signal.SIGINT)
        process.wait(timeout=30)
        process.stdout.close()
        process.stderr.close()


def test_the_demo_from_the_first_page_to_a_paper_and_through_a_killed_server(page: Any, tmp_path: Path) -> None:
    folder = tmp_path / "shop"
    write_demo(folder, dt.date.today())
    with served(folder) as (address, process):
        assert address.startswith("http://127.0.0.1:")
        page.goto(address)
        page.get_by_role("link", name="Wide court band").click()
        page.get_by_role("button", name="Work it through").click()
        page.get_by_role("button", name="Stop").wait_for()
        page.wait_for_function("() => document.querySelector('ring-view')?.dataset.ready", timeout=LONGEST_MS)
        page.locator("#step-price > summary").click()
        assert "GBP" in page.locator("#step-price").inner_text()
        page.get_by_role("link", name="Papers").click()
        with page.expect_download() as coming:
            page.get_by_role("link", name="save Offer for the client").click()
        quote = Path(coming.value.path()).read_bytes()
        assert quote.startswith(b"%PDF-") and quote == (folder / "wide-band.dossier" / "quote.pdf").read_bytes()
        page.goto(f"{address}c/sapphire")
        page.get_by_role("button", name="Work it through").click()
        page.get_by_role("button", name="Stop").wait_for()
        process.kill()
        page.get_by_text("does not answer").wait_for(timeout=30_000)
    with served(folder) as (address, _process):
        page.goto(f"{address}c/wide-band")
        page.wait_for_function("() => document.querySelector('ring-view')?.dataset.ready", timeout=30_000)
        page.goto(f"{address}c/sapphire")
        page.get_by_text("Not worked through yet").wait_for()
        page.get_by_role("button", name="Work it through").wait_for()


def test_lan_demands_a_passphrase(tmp_path: Path) -> None:
    with served(tmp_path / "shop", "--lan", RINGWRIGHT_PASSPHRASE="short") as (address, process):
        assert process.wait(timeout=30) == 2
        assert process.stderr is not None
        assert "give at least 12" in process.stderr.read() and address == ""
    with served(tmp_path / "shop", "--lan", RINGWRIGHT_PASSPHRASE="four plain words here") as (address, _process):
        import urllib.request

        port = address.rstrip("/").rpartition(":")[2]
        until = time.monotonic() + 30
        while True:
            try:
                shown = urllib.request.urlopen(f"http://127.0.0.1:{port}/").read().decode()
                break
            except OSError:
                assert time.monotonic() < until
                time.sleep(0.2)
        assert "Passphrase of this workshop" in shown
