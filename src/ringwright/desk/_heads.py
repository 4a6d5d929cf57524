"""What the first page shows of a text or of a dossier, drawn from it once, when it is taken in."""

from __future__ import annotations

import datetime as dt
import tomllib
from dataclasses import dataclass
from typing import Any

from ringwright.desk.reading import LARGEST_FILE_BYTES, commission_in, workshop_in
from ringwright.store.commissions import Text
from ringwright.terms.mistake import BadInput
from ringwright.terms.order import STEPS
from ringwright.terms.remark import Level


@dataclass(frozen=True)
class Summary:
    """What a dossier says in short: the arguments of :func:`ringwright.store.dossiers.put`."""

    verdict: Level
    halts: int
    heeds: int
    worst: dict[str, Any] | None
    next_step: str


def head_of(content: bytes, name: str) -> Text:
    """A commission's head and the names of its model and log, as far as they can be read; its mistakes where there are
    any."""
    mistakes: tuple[str, ...] = ()
    try:
        found = commission_in(decoded(content, name), name)
        head = found.commission
        model = found.model.file if found.model else None
        log = found.thermocouple.file if found.thermocouple else None
        return Text(
            content=content,
            order_number=head.number,
            title=head.title,
            due=head.due,
            model_name=model,
            log_name=log,
        )
    except BadInput as fault:
        mistakes = tuple(str(one) for one in fault.mistakes)
    data = _plain_data(content)
    heading, drawn, logged = (
        part if isinstance(part, dict) else {} for part in map(data.get, ("commission", "model", "thermocouple"))
    )
    due = heading.get("due")
    return Text(
        content=content,
        order_number=_text(heading.get("number")),
        title=_text(heading.get("title")),
        due=due if isinstance(due, dt.date) and not isinstance(due, dt.datetime) else None,
        mistakes=mistakes,
        model_name=_text(drawn.get("file")) or None,
        log_name=_text(logged.get("file")) or None,
    )


def workshop_mistakes(content: bytes, name: str) -> tuple[str, ...]:
    """The mistakes in a workshop's text."""
    try:
        workshop_in(decoded(content, name), name)
    except BadInput as fault:
        return tuple(str(one) for one in fault.mistakes)
    return ()


def decoded(content: bytes, name: str) -> str:
    """A file's text. Raises ``BadInput`` where it is none."""
    from ringwright.terms.mistake import bad

    if len(content) > LARGEST_FILE_BYTES:
        raise bad(name, "is too long for a file of this kind", "give a commission or a workshop in TOML")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError as fault:
        raise bad(name, "is not a text in UTF-8", "save it as UTF-8") from fault


def summary_of(data: dict[str, Any]) -> Summary:
    """A dossier in short, from the data of ``dossier.json``. Raises ``KeyError`` or ``ValueError`` where it is none."""
    remarks = [
        remark | {"step": step.name}
        for step in STEPS
        if step.name in data["steps"]
        for remark in data["steps"][step.name]["remarks"]
    ]
    halts = [remark for remark in remarks if remark["level"] == Level.HALT]
    heeds = [remark for remark in remarks if remark["level"] == Level.HEED]
    worst = next(iter(halts + heeds), None)
    tasks = data["steps"].get("bench", {}).get("result", {}).get("tasks") or [{}]
    next_step = f"change the design: {halts[0]['change']}" if halts else str(tasks[0].get("title", ""))
    return Summary(Level(data["verdict"]), len(halts), len(heeds), worst, next_step)


def _plain_data(content: bytes) -> dict[str, Any]:
    try:
        return tomllib.loads(content.decode("utf-8-sig", errors="replace"))
    except tomllib.TOMLDecodeError:
        return {}


def _text(value: Any) -> str:
    return value if isinstance(value, str) else ""
