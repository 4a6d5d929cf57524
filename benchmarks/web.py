"""The workshop's own page in a browser that draws in software: first page, ring, frames, a dropped model, memory."""

from __future__ import annotations

import datetime as dt
import os
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from benchmarks import Bar, Measured, benchmark
from benchmarks.shelf import COMMISSIONS, fill

_RUNS = 5
_FRAMES = 36
_TRIANGLES = 200_000
_SIZE = {"width": 1280, "height": 800}
_SOFTWARE = ["--no-sandbox", "--use-gl=angle", "--use-angle=swiftshader", "--enable-unsafe-swiftshader"]
_DRAWN = """async () => {
    const view = document.querySelector('ring-view');
    while (!view.dataset.ready) await new Promise((done) => setTimeout(done, 5));
    view.finish();
    return performance.now() / 1000;
}"""


@benchmark(Bar("first-page", "s", 1.0))
def first_page() -> Iterator[Measured]:
    """The bench with many commissions, as a person waits for it."""
    with tempfile.TemporaryDirectory() as name:
        fill(Path(name))
        with _served(Path(name)) as (address, _process), _browser() as browser:
            seconds = []
            for _ in range(_RUNS + 1):
                page = browser.new_page(viewport=_SIZE)
                page.goto(address, wait_until="load")
                assert page.locator("li.card").count() == COMMISSIONS
                seconds.append(
                    page.evaluate("() => performance.timing.loadEventEnd - performance.timing.navigationStart")
                )
                page.close()
    how = (
        f"median of {_RUNS} loadings with {COMMISSIONS} commissions, from asking to all that is seen, after a first one"
    )
    yield Measured("first-page", statistics.median(seconds[1:]) / 1000, how)


@benchmark(Bar("ring-page", "s", 3.0), Bar("frames", "1/s", None))
def ring_page() -> Iterator[Measured]:
    """A commission whose ring has 200,000 triangles."""
    with tempfile.TemporaryDirectory() as name:
        _large_ring(Path(name))
        with _served(Path(name)) as (address, _process), _browser() as browser:
            seconds, frames, whole = [], [], []
            for _ in range(_RUNS):
                context = browser.new_context(viewport=_SIZE)
                page = context.new_page()
                page.goto(f"{address}c/wide-band", wait_until="commit")
                seconds.append(page.evaluate(_DRAWN))
                frames.append(page.evaluate(f"() => document.querySelector('ring-view').frames({_FRAMES})"))
                whole.append(page.evaluate("() => document.querySelector('ring-view').frames(6, true)"))
                shown = page.evaluate("() => document.querySelector('ring-view canvas').width")
                context.close()
    how = (
        f"median of {_RUNS}: {_TRIANGLES:,} triangles, Chromium drawing in software, 1280 × 800, {os.cpu_count()} cores"
    )
    asked = f"{how}, from asking to the ring drawn, nothing kept from before"
    turned = f"{how}, picture {shown} wide, turned in {_FRAMES} frames, coarser while it turns; "
    turned += f"whole it would be {statistics.median(whole):.1f}"
    yield Measured("ring-page", statistics.median(seconds), asked)
    yield Measured("frames", statistics.median(frames), turned)


@benchmark(Bar("dropped-model", "s", 2.0), Bar("server-memory", "MB", 400))
def dropped_model() -> Iterator[Measured]:
    """A model dropped on the page until its first figures stand, and what the app takes when all is quiet again."""
    from ringwright.desk.demo import write_demo

    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        write_demo(folder, dt.date.today())
        model = folder / "sapphire-ring.stl"
        with _served(folder) as (address, process), _browser() as browser:
            page = browser.new_page(viewport=_SIZE)
            page.goto(address)
            page.set_input_files("#model-file", model)  # the first look waits until all is compiled
            page.wait_for_url("**/new?model=*", timeout=600_000)
            seconds = []
            for _ in range(_RUNS):
                page.goto(address)
                start = time.perf_counter()
                page.set_input_files("#model-file", model)
                page.wait_for_url("**/new?model=*")
                page.locator("img.look").wait_for()
                seconds.append(time.perf_counter() - start)
            megabytes = model.stat().st_size / 1e6
            page.close()
            time.sleep(3.0)
            memory, looking = _memory(process.pid)
    how = f"median of {_RUNS}: the demo's ring, {megabytes:.1f} MB of STL, from choosing to figures and picture"
    yield Measured("dropped-model", statistics.median(seconds), how)
    how = f"proportional memory of the server after that; the process that looks at models has {looking:.0f} MB more "
    yield Measured("server-memory", memory, how + "until it was idle for five minutes")


def _large_ring(folder: Path) -> None:
    """The demo's band worked through, with a ring of many triangles in the place of its own."""
    import numpy as np

    from ringwright.desk import shelf as desk
    from ringwright.desk.demo import write_demo
    from ringwright.papers.meshfiles import glb
    from ringwright.store import dossiers
    from ringwright.terms.body import Body, Mesh, Role

    around, across = 1000, _TRIANGLES // 2000
    t = np.linspace(0, 2 * np.pi, around, endpoint=False)[:, None]
    s = np.linspace(0, 2 * np.pi, across, endpoint=False)[None, :]
    far = 9.5 + 1.2 * np.cos(s)
    points = np.stack(np.broadcast_arrays(far * np.cos(t), far * np.sin(t), 2.4 * np.sin(s)), axis=-1).reshape(-1, 3)
    i, j = np.meshgrid(np.arange(around), np.arange(across), indexing="ij")
    k, m = (i + 1) % around, (j + 1) % across
    a, b, c, d = ((x * across + y).ravel() for x, y in ((i, j), (k, j), (k, m), (i, m)))
    mesh = Mesh(points, np.concatenate([np.stack([a, b, c], 1), np.stack([a, c, d], 1)]))
    assert len(mesh.faces) == _TRIANGLES
    write_demo(folder, dt.date.today())
    with desk.open_shelf(folder) as shelf:
        desk.take_up(shelf)
        done = desk.wait_for_making(shelf, desk.start_making(shelf, "wide-band"), 600)
        found = desk.dossier(shelf, "wide-band")
        if found is None or done.verdict is None:
            raise RuntimeError(f"the demo's band was not worked through: {done}")
        files = {name: desk.dossier_file(shelf, "wide-band", name) for name, _size in found.files}
        files["ring.glb"] = glb([Body("ring", Role.METAL, mesh)])
        with shelf._store.writing() as db:
            dossiers.put(
                db,
                "wide-band",
                1,
                found.workshop,
                files,
                made_at=found.made_at,
                verdict=found.verdict,
                halts=found.halts,
                heeds=found.heeds,
                worst=found.worst,
                next_step=found.next_step,
                picture=None,
            )


@contextmanager
def _served(folder: Path) -> Iterator[tuple[str, subprocess.Popen[str]]]:
    """The app as a person starts it; its address and process."""
    command = [str(Path(sys.executable).with_name("ringwright")), "serve", str(folder), "--port", "0"]
    process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
    assert process.stdout is not None
    try:
        yield process.stdout.readline().strip(), process
    finally:
        process.terminate()
        process.wait(timeout=20)
        process.stdout.close()


@contextmanager
def _browser() -> Iterator[Any]:
    """A headless Chromium; ``RuntimeError`` where none is installed."""
    from playwright.sync_api import sync_playwright

    program = shutil.which("chromium") or shutil.which("chromium-browser")
    if program is None:
        raise RuntimeError("no Chromium is installed (apt install chromium)")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=program, args=_SOFTWARE)
        yield browser
        browser.close()


def _memory(pid: int) -> tuple[float, float]:
    """Proportional memory in MB of a process, and of its children."""
    children = [
        int(stat.parent.name)
        for stat in Path("/proc").glob("[0-9]*/stat")
        if stat.exists() and stat.read_text().rpartition(")")[2].split()[1] == str(pid)
    ]
    return _proportional(pid), sum(_proportional(child) for child in children)


def _proportional(pid: int) -> float:
    for line in Path(f"/proc/{pid}/smaps_rollup").read_text().splitlines():
        if line.startswith("Pss:"):
            return int(line.split()[1]) * 1.024e-3
    return 0.0
