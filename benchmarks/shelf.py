"""The shelf of the workshop: the first page of 500 commissions, and a change that touches only the price."""

from __future__ import annotations

import datetime as dt
import os
import statistics
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from benchmarks import Bar, Measured, benchmark

COMMISSIONS = 500
_RUNS = 7
_DUE = dt.date(2030, 1, 1)


def fill(folder: Path, count: int = COMMISSIONS) -> None:
    """A folder with a workshop and ``count`` commissions, each worked through as far as the first page shows it."""
    from ringwright.desk.demo import write_demo
    from ringwright.desk.shelf import open_shelf, take_up
    from ringwright.papers.views import ASLANT, views
    from ringwright.steps.piece import starter
    from ringwright.store import dossiers
    from ringwright.terms.commission import StarterBrief
    from ringwright.terms.remark import Level

    write_demo(folder, dt.date.today())
    text = (folder / "wide-band.commission.toml").read_text("utf-8")
    for file in folder.glob("*.commission.toml"):
        file.unlink()
    for number in range(count):
        name = folder / f"ring-{number:03d}.commission.toml"
        name.write_text(text.replace("2-wide-band", f"{number:03d}"), "utf-8")
    from ringwright import facts

    drawn = starter(StarterBrief(shape="band"), 17.0, facts.load().starter_proportions)
    png = views(drawn.bodies, [ASLANT])[0].png
    now = dt.datetime.now(dt.UTC)
    with open_shelf(folder) as shelf:
        take_up(shelf)
        with shelf._store.writing() as db:
            for number in range(count):
                dossiers.put(
                    db,
                    f"ring-{number:03d}",
                    1,
                    1,
                    {"dossier.json": b"{}"},
                    made_at=now,
                    verdict=(Level.FINE, Level.HEED, Level.HALT)[number % 3],
                    halts=number % 3 // 2,
                    heeds=number % 3,
                    worst={"step": "wear", "level": "heed", "says": "The shank is thin at its bottom.", "change": "x"},
                    next_step="Print the pattern",
                    picture=png + number.to_bytes(4, "big"),
                )


@benchmark(Bar("first-page-data", "s", 0.25))
def first_page() -> Iterator[Measured]:
    """What the first page shows of 500 commissions, with the folder looked through for changes."""
    from ringwright.desk.shelf import cards, open_shelf

    with tempfile.TemporaryDirectory() as name:
        fill(Path(name))
        with open_shelf(Path(name)) as shelf:
            seconds = []
            for _ in range(_RUNS):
                start = time.perf_counter()
                found = cards(shelf)
                seconds.append(time.perf_counter() - start)
            assert len(found) == COMMISSIONS
    how = f"median of {_RUNS} readings of {COMMISSIONS} cards, the files in the folder looked at each time"
    yield Measured("first-page-data", statistics.median(seconds), how)


@benchmark(Bar("price-change", "s", 0.5))
def price_change() -> Iterator[Measured]:
    """A deposit changed on the page: saved, written through, worked, and its figures there."""
    from ringwright.desk import shelf as desk
    from ringwright.desk.demo import write_demo

    with tempfile.TemporaryDirectory() as name, _cache(Path(name) / "cache"):
        write_demo(Path(name) / "shop", dt.date.today())
        with desk.open_shelf(Path(name) / "shop") as shelf:
            desk.take_up(shelf)
            _made(shelf, desk.start_making(shelf, "sapphire"))
            seconds = []
            for number in range(_RUNS):
                text = desk.commission(shelf, "sapphire").text
                start = time.perf_counter()
                saved = desk.save_commission(
                    shelf, "sapphire", _with_deposit(text, 20 + number), based_on=number + 1, by="benchmark"
                )
                job = desk.start_making(shelf, "sapphire", saved.number)
                while desk.making_figures(shelf, job) is None and not desk.making_status(shelf, job).stage.over:
                    time.sleep(0.002)
                seconds.append(time.perf_counter() - start)
                worked = _made(shelf, job)
                if worked != ("price",):
                    raise RuntimeError(f"a change of the deposit worked {worked}")
    how = f"median of {_RUNS} changes of the demo's deposit, from saving to figures, its making kept from before"
    yield Measured("price-change", statistics.median(seconds), how)


def _made(shelf: Any, job: str) -> tuple[str, ...]:
    """Wait for a making; the steps that it worked."""
    from ringwright.desk import shelf as desk

    status = desk.wait_for_making(shelf, job, 600)
    if status.stage is not desk.Stage.DONE:
        raise RuntimeError(f"a making ended as {status.stage}: {status.fault or status.mistakes}")
    return status.worked


def _with_deposit(text: str, percent: int) -> str:
    lines = [line for line in text.splitlines() if not line.startswith("deposit = ")]
    if "[price]" not in lines:
        lines += ["", "[price]"]
    at = lines.index("[price]") + 1
    return "\n".join([*lines[:at], f'deposit = "{percent} %"', *lines[at:]]) + "\n"


@contextmanager
def _cache(folder: Path) -> Iterator[None]:
    """Results are kept in a folder of the benchmark's own; compiled code is that of this machine."""
    before = os.environ.get("RINGWRIGHT_CACHE")
    compiled = os.environ.get("NUMBA_CACHE_DIR")
    from ringwright.desk.keeping import cache_folder

    os.environ.setdefault("NUMBA_CACHE_DIR", str(cache_folder() / "compiled"))
    os.environ["RINGWRIGHT_CACHE"] = str(folder)
    try:
        yield
    finally:
        for name, value in (("RINGWRIGHT_CACHE", before), ("NUMBA_CACHE_DIR", compiled)):
            if value is None:
                os.environ.pop(name, None)
            else:
                os.environ[name] = value
