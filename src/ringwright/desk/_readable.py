"""Whether a dossier has the form that this version writes, so that a page may draw it without asking again."""

from __future__ import annotations

from typing import Any

from ringwright.papers.dossier import FORMAT
from ringwright.terms.remark import Level

Form = dict[str, "Form | list[Form] | None"]

_COLUMN: Form = dict.fromkeys(("name", "help", "unit", "digits"))
_FIGURE: Form = {**_COLUMN, "chief": None, "value": None}
_TABLE: Form = {"name": None, "help": None, "columns": [_COLUMN], "rows": None}
_REMARK: Form = dict.fromkeys(
    ("level", "kind", "says", "figure", "limit", "unit", "limit_source", "place", "point_mm", "change")
)
_FIELD: Form = dict.fromkeys(("name", "title", "unit", "body", "least", "most", "low_is_bad", "limits"))
_STEP: Form = {
    **dict.fromkeys(("title", "question", "verdict", "result")),
    "figures": [_FIGURE],
    "tables": [_TABLE],
    "remarks": [_REMARK],
    "fields": [_FIELD],
}
_HEAD: Form = {"commission": {"commission": {"number": None, "title": None, "currency": None}}, "verdict": None}


def readable(data: Any) -> bool:
    """Whether the data are a dossier as this version writes it; another version may have left out what pages show."""
    if not _has(data, _HEAD) or data.get("format") != FORMAT or not isinstance(data.get("steps"), dict):
        return False
    steps = list(data["steps"].values())
    if not all(_has(step, _STEP) for step in steps):
        return False
    levels = [data["verdict"], *(step["verdict"] for step in steps)]
    levels += [remark["level"] for step in steps for remark in step["remarks"]]
    return all(level in _LEVELS for level in levels)


_LEVELS = {level.value for level in Level}


def _has(data: Any, form: Form) -> bool:
    """Whether the data hold all that the form names; None in it stands for anything, a list for many of its kind."""
    if not isinstance(data, dict) or not form.keys() <= data.keys():
        return False
    for name, wanted in form.items():
        part = data[name]
        if isinstance(wanted, list):
            if not isinstance(part, list) or not all(_has(one, wanted[0]) for one in part):
                return False
        elif wanted is not None and not _has(part, wanted):
            return False
    return True
