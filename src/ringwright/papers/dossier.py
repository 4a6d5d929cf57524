"""``dossier.json``: a making as plain data, step by step, for other programs and for the pages."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import is_dataclass
from typing import Any

from ringwright.papers.plain import plain, rounded
from ringwright.terms.body import Body, Field, Residual
from ringwright.terms.order import STEPS, Step
from ringwright.terms.outcome import Outcome
from ringwright.terms.quantity import Estimate, Figure, described, figures_of
from ringwright.terms.remark import Level, Remark

FORMAT = "ringwright dossier 1"
"""Stands in every dossier; the number changes when a reader of the former form would be misled."""


def outcomes(making: Any) -> Iterator[tuple[Step, Outcome[Any]]]:
    """The steps of a making that were worked, in the order of the work."""
    for step in STEPS:
        outcome = getattr(making, step.name, None)
        if outcome is not None:
            yield step, outcome


def verdict_of(making: Any) -> Level:
    """The gravest verdict among the steps."""
    return max((outcome.verdict for _, outcome in outcomes(making)), key=lambda level: level.rank, default=Level.FINE)


def dossier(making: Any, stamp: dt.datetime, files: tuple[str, ...] = ()) -> dict[str, Any]:
    """The dossier as plain data. ``stamp`` is the only thing in it that the inputs do not decide.

    ``making`` has the commission, the workshop and one :class:`Outcome` a step, each under the step's name;
    ``files`` are the other files that stand beside it.
    """
    return {
        "format": FORMAT,
        "made_at": stamp.isoformat(timespec="seconds"),
        "verdict": verdict_of(making).value,
        "commission": plain(making.commission),
        "workshop": plain(making.workshop),
        "steps": {step.name: step_data(step, outcome) for step, outcome in outcomes(making)},
        "files": list(files),
    }


def step_data(step: Step, outcome: Outcome[Any]) -> dict[str, Any]:
    """One step: title, question, verdict, its result whole, the figures of it that one line can show, and the rest."""
    return {
        "title": step.title,
        "question": step.question,
        "verdict": outcome.verdict.value,
        "figures": figures(outcome.result),
        "tables": tables(outcome.result),
        "remarks": [remark_data(remark) for remark in outcome.remarks],
        "bodies": [_body(body) for body in outcome.bodies],
        "fields": [_field(field) for field in outcome.fields],
        "residuals": [_residual(residual) for residual in outcome.residuals],
        "result": plain(outcome.result),
    }


def figures(result: Any, within: str = "") -> list[dict[str, Any]]:
    """Each described figure of a result that is a single value: name, what it is, value, unit, digits.

    Those of a dataclass within the result are there too, named ``alloy.density_g_cm3``.
    """
    found = []
    for shown in figures_of(result):
        if _is_table(shown.value):
            continue
        if _is_whole(shown.value):
            found += figures(shown.value, f"{within}{shown.name}.")
        else:
            about = shown.about
            found.append(_column(f"{within}{shown.name}", about) | {"value": plain(shown.value, about)})
    return found


def tables(result: Any, within: str = "") -> list[dict[str, Any]]:
    """Each described list of dataclasses, and each set of values by name, as a table: columns and rows of cells."""
    found = []
    for shown in figures_of(result):
        name, value = f"{within}{shown.name}", shown.value
        if _is_whole(value):
            found += tables(value, f"{name}.")
        elif _is_table(value):
            found.append({"name": name, "help": shown.about.help} | _cells(value, shown.about))
    return found


def _cells(value: Any, about: Figure) -> dict[str, Any]:
    """The columns and rows of a list of dataclasses, of plain values, or of either by name."""
    parts = list(value.values()) if isinstance(value, dict) else list(value)
    whole = bool(parts) and all(_is_whole(part) for part in parts)
    if whole:
        kinds = described(type(parts[0]))
        columns = [_column(name, column) for name, column in kinds.items()]
        rows = [[plain(getattr(part, name), column) for name, column in kinds.items()] for part in parts]
    else:
        columns = [_column("value", about)]
        rows = [[plain(part, about)] for part in parts]
    if isinstance(value, dict):
        columns = [{"name": "key", "help": "", "unit": "", "digits": 0, "chief": False}, *columns]
        rows = [[str(plain(key)), *row] for key, row in zip(value, rows, strict=True)]
    return {"columns": columns, "rows": rows}


def _column(name: str, about: Figure) -> dict[str, Any]:
    return {
        "name": name,
        "help": about.help,
        "unit": about.unit,
        "digits": about.digits,
        "chief": about.chief,
    }


def _is_whole(value: Any) -> bool:
    """Whether a value has figures of its own."""
    return is_dataclass(value) and not isinstance(value, Estimate)


def _is_table(value: Any) -> bool:
    """Whether a value is shown as a table: by name, or a list of anything but the three numbers of a point."""
    if isinstance(value, tuple):
        return not (len(value) == 3 and all(isinstance(part, float) for part in value))
    return isinstance(value, dict)


def remark_data(remark: Remark) -> dict[str, Any]:
    """A remark as plain data; the step is that under which it stands."""
    data: dict[str, Any] = plain(remark)
    del data["step"]
    return data


def _body(body: Body) -> dict[str, Any]:
    return {"name": body.name, "role": body.role.value, "triangles": len(body.mesh.faces)}


def _field(field: Field) -> dict[str, Any]:
    import numpy as np

    known = field.values[np.isfinite(field.values)]
    return {
        "name": field.name,
        "title": field.title,
        "unit": field.unit,
        "body": field.body,
        "least": rounded(known.min()) if len(known) else None,
        "most": rounded(known.max()) if len(known) else None,
        "low_is_bad": field.low_is_bad,
        "limits": [rounded(end) for end in field.limits] if field.limits is not None else None,
    }


def _residual(residual: Residual) -> dict[str, Any]:
    return {"name": residual.name, "value": rounded(residual.value), "bound": rounded(residual.bound)}
