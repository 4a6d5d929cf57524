"""Tasks that misbehave, and a making that is given instead of worked: run in processes of their own by the tests."""

from __future__ import annotations

import ctypes
import os
import sys
import time
from dataclasses import replace
from typing import Any

from ringwright.terms.commission import Commission
from ringwright.terms.mistake import BadInput, ComputingFault, Mistake

Frame = tuple[dict[str, Any], list[bytes]]


def echo(data: dict[str, Any], attached: list[bytes], telling: Any) -> Frame:
    sys.stdout.write("a library says hello\n")
    sys.stdout.flush()
    os.write(1, b"and another writes to the first descriptor")
    sys.stdin.read()
    telling(0.25, "a quarter")
    telling.say({"more": 1}, b"told")
    return data | {"pid": os.getpid(), "nice": os.nice(0)}, [part[::-1] for part in attached]


def refuse(data: dict[str, Any], attached: list[bytes], telling: Any) -> Frame:
    raise BadInput(Mistake("a", "b", "c"), Mistake("", "d", ""))


def not_converge(data: dict[str, Any], attached: list[bytes], telling: Any) -> Frame:
    raise ComputingFault("the residual is 0.2")


def fail(data: dict[str, Any], attached: list[bytes], telling: Any) -> Frame:
    raise KeyError("nothing")


def hog(data: dict[str, Any], attached: list[bytes], telling: Any) -> Frame:
    held = []
    while True:
        held.append(bytearray(256 << 20))


def obey(data: dict[str, Any], attached: list[bytes], telling: Any) -> Frame:
    while True:
        telling(0.5, "waiting to be stopped")
        time.sleep(0.01)


def ignore(data: dict[str, Any], attached: list[bytes], telling: Any) -> Frame:
    telling(0.5, "deaf")
    time.sleep(60)
    return {}, []


def crash(data: dict[str, Any], attached: list[bytes], telling: Any) -> Frame:
    ctypes.string_at(0)
    return {}, []


def make_given(data: dict[str, Any], attached: list[bytes], telling: Any) -> Frame:
    """A making of which only the commission is true, worked by the title of the commission."""
    from ringwright import facts
    from ringwright.desk import _tasks, planning
    from ringwright.desk.keeping import Keeping
    from tests.papers.makings import MAKING

    def given(ordered: Any, facts: Any, today: Any, keep: Any, progress: Any, aside: Any) -> Any:
        order: Commission = ordered.commission
        title = order.commission.title
        if order.thermocouple is not None and not ordered.logs:
            raise ComputingFault("the log did not come along")
        progress(0.1, "finger: sizes")
        keep("finger", doubled, order.finger.size or "")
        progress(0.5, "price: parts")
        keep("price", doubled, title)
        while "slow" in title:
            progress(0.6, "waiting")
            time.sleep(0.01)
        if "crash" in title:
            os.abort()
        if "fault" in title:
            raise ComputingFault("the residual is 0.2")
        return replace(MAKING, commission=order, workshop=ordered.workshop)

    planning._work = given
    facts.load = lambda: None
    _tasks._keeping = keeping
    KEPT.setdefault("keep", Keeping())
    return _tasks.make(data, attached, telling)


KEPT: dict[str, Any] = {}


def keeping() -> Any:
    return KEPT["keep"]


def doubled(text: str) -> str:
    return text * 2
