"""The demo as a person meets it: worked and opened, a paper in the hand; and a server that is killed."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

pytestmark = [pytest.mark.browser, pytest.mark.slow]

LONGEST_MS = 600_000


@contextmanager
def running(*arguments: str, **environment: str) -> Iterator[tuple[str, subprocess.Popen[str]]]:
    """A command that serves; the address that it tells, "" where it ends without one."""
    command = [str(Path(sys.executable).with_name("ringwright")), *arguments]
    process = subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=os.environ | environment
    )
    assert process.stdout is not None and process.stderr is not None
    heard: list[str] = []  # read on, so that it can go on talking
    threading.Thread(target=heard.extend, args=(process.stderr,), daemon=True).start()
    try:
        yield next((line.strip() for line in process.stdout if line.startswith("http")), ""), process
    finally:
        process.send_signal(signal.SIGINT)
        process.wait(timeout=30)
        process.stdout.close()


def served(folder: Path, *more: str, **environment: str) -> Any:
    return running("serve", str(folder), "--port", "0", *more, **environment)


def test_the_demo_from_the_first_page_to_a_paper_and_through_a_killed_server(page: Any, tmp_path: Path) -> None:
    folder, opened = tmp_path / "shop", tmp_path / "opened"
    browser = tmp_path / "browser"
    browser.write_text(f'#!/bin/sh\necho "$1" > "{opened}"\n')
    browser.chmod(0o755)
    with running("demo", str(folder), "--open", BROWSER=str(browser)) as (address, process):
        assert address.startswith("http://127.0.0.1:")
        page.goto(address)
        assert opened.read_text().strip() == address, "the demo opens its page"
        assert page.locator("li.card img").count() == 2
        page.get_by_role("link", name="Wide court band").click()
        page.wait_for_function("() => document.querySelector('ring-view')?.dataset.ready", timeout=LONGEST_MS)
        page.locator("#step-price > summary").click()
        assert "GBP" in page.locator("#step-price").inner_text()
        page.get_by_role("link", name="Papers").click()
        with page.expect_download() as coming:
            page.get_by_role("link", name="save Offer for the client").click()
        quote = Path(coming.value.path()).read_bytes()
        assert quote.startswith(b"%PDF-") and quote == (folder / "wide-band.dossier" / "quote.pdf").read_bytes()
        page.goto(f"{address}c/sapphire/brief")
        page.get_by_label("Size", exact=True).fill("N")
        page.get_by_role("button", name="Save and work through").click()
        page.get_by_role("button", name="Stop").wait_for()
        process.kill()
        page.get_by_text("does not answer").wait_for(timeout=30_000)
    with served(folder) as (address, process):
        page.goto(f"{address}c/wide-band")
        page.wait_for_function("() => document.querySelector('ring-view')?.dataset.ready", timeout=LONGEST_MS)
        page.goto(f"{address}c/sapphire")
        page.get_by_text("These figures are of version 1; the brief is at version 2.").wait_for()
        page.get_by_role("button", name="Work it through").wait_for()
        process.send_signal(signal.SIGINT)
        assert process.wait(timeout=30) == 0, "Ctrl+C is how serving ends"
