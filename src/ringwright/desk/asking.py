"""One question, one answer: a single step asked by itself, without a commission.

Each function takes what a person writes and gives plain JSON data; the command line and the pages show it.
A mistake raises :class:`~ringwright.terms.mistake.BadInput` with what would be right.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

from ringwright.desk._units import Unreadable, quantity
from ringwright.papers.dossier import remark_data
from ringwright.terms.facts import Facts, used
from ringwright.terms.mistake import BadInput, bad
from ringwright.terms.outcome import Outcome
from ringwright.terms.remark import Level, Remark
from ringwright.terms.workshop import Habits, Kiln, Workshop

Answer = dict[str, Any]


def measure(text: str, unit: str, what: str) -> float:
    """The quantity that ``text`` says, above zero, in ``unit``; ``what`` names it in the mistake."""
    try:
        value = quantity(text, unit)
    except Unreadable as fault:
        raise bad(what, fault.what, fault.right) from fault
    if value <= 0:
        raise bad(what, f"'{text}' cannot be", f"write more than 0 {unit}")
    return value


def measures(text: str, count: int, what: str, example: str) -> tuple[float, ...]:
    """Lengths in mm from "6.5 x 6.5 x 4 mm": one unit for all at the end, or one each."""
    parts = [part.strip() for part in re.split(r"[x×*]", text)]
    if len(parts) != count:
        raise bad(what, f"'{text}' is not {count} lengths", f'write "{example}"')
    unit = re.sub(r"^[-+\d.,eE]+", "", parts[-1]).strip()
    bare = re.compile(r"[-+]?[\d.,]+")
    return tuple(measure(f"{part} {unit}" if bare.fullmatch(part) else part, "mm", what) for part in parts)


def size(value: str, system: str | None, band_width: str | None = None) -> Answer:
    """A finger size in every system. With ``band_width`` ("6 mm") the ring that this finger needs at that width."""
    from ringwright.steps import finger
    from ringwright.terms.commission import FingerBrief
    from ringwright.terms.finger import SizeRows

    facts = _facts()
    rows = SizeRows(systems=facts.size_systems, charts=facts.size_charts, fits=facts.fit_allowances)
    said = finger.circumference_mm(value, system, rows)
    answer: Answer = _plain(finger.labels(said, rows))
    answer["disagreements"] = _plain(finger.disagreements(value, system, rows))
    if band_width is not None:
        brief = FingerBrief(size=value, system=system)
        fit = finger.fit(brief, measure(band_width, "mm", "--band-width"), rows)
        answer = {**_plain(finger.labels(fit.result.inner_circumference_mm.value, rows)), "fit": _plain(fit.result)}
        answer["disagreements"] = answer["fit"].pop("disagreements")
        answer["remarks"] = _remarks(fit)
    return answer


def recipe(alloy: str, mass: str, scrap: str | None = None, workshop: Workshop | None = None) -> Answer:
    """What a charge of an alloy is weighed out from: fine metal, the workshop's stock, and clean scrap of its own."""
    from ringwright.steps import metal

    facts = _facts()
    row = used(facts.alloys, alloy, "alloy")
    lots = list(workshop.stock) if workshop else []
    if scrap is not None:
        lots.append(metal.scrap_lot(row, measure(scrap, "g", "--scrap")))
    habits: dict[str, Any] = {}
    if workshop is not None:
        habits = {
            "weighing_step_g": workshop.habits.weighing_step_g,
            "new_metal_percent": workshop.habits.new_metal_percent,
            "prices": workshop.fine_price,
        }
    found = metal.recipe(
        row,
        measure(mass, "g", "--mass"),
        elements=facts.elements,
        fine=facts.fine_metals,
        rules=facts.metal_rules,
        limits=facts.metal_limits,
        lots=lots,
        **habits,
    )
    return {**_plain(found.result), "remarks": _remarks(found)}


def stone(cut: str, size: str, material: str, stated: str | None = None) -> Answer:
    """A stone by its cut, its measures and its material: what it weighs, and whether a stated mass fits."""
    from ringwright.steps import gems
    from ringwright.terms.commission import StoneBrief

    facts = _facts()
    length, width, depth = measures(size, 3, "--size", "7.0 x 5.0 x 3.2 mm")
    mass = measure(stated, "ct", "--stated") if stated is not None else None
    brief = StoneBrief(
        name="stone",
        cut=cut,
        material=material,
        length_mm=length,
        width_mm=width,
        depth_mm=depth,
        stated_mass_ct=mass,
    )
    found = gems.cut(
        brief,
        facts.cuts,
        facts.gem_materials,
        facts.gem_treatments,
        facts.weight_rules,
        facts.girdle_words,
        facts.girdle_factors,
        facts.cut_risks,
    )
    gem = found.result
    answer = {
        "mass_ct": gem.mass_ct.value,
        "mass_plus_minus_ct": gem.mass_ct.plus_minus,
        "volume_mm3": gem.volume_mm3,
        "rule_mass_ct": gem.rule_mass_ct.value if gem.rule_mass_ct else None,
        "rule_source": gem.rule_source,
        "stated_ct": gem.stated_ct,
        "plausible": gem.plausible,
        "gem": gem,
    }
    return {**_plain(answer), "remarks": _remarks(found)}


def burnout(
    flask: str,
    pattern: str,
    kiln: str | None = None,
    workshop: Workshop | None = None,
    flask_C: float | None = None,
) -> Answer:
    """The kiln's programme for a flask ("80 x 100 mm") and a pattern of wax or resin (or a key of the facts)."""
    from ringwright.steps import burnout as step

    facts = _facts()
    diameter, height = measures(flask, 2, "--flask", "80 x 100 mm")
    kinds = {row.kind: row.key for row in reversed(facts.resins)}
    habits = workshop.habits if workshop else Habits()
    found = step.programme(
        diameter_mm=diameter,
        height_mm=height,
        pattern=used(facts.resins, kinds.get(pattern, pattern), "pattern material"),
        investment=used(facts.investments, habits.investment, "investment"),
        flask_C=flask_C or habits.flask_C or used(facts.burnout_heat, "usual flask").flask_C or 0.0,
        needs=facts.burnout_needs,
        ramps=facts.burnout_ramps,
        reactions=facts.mould_reactions,
        heat=facts.burnout_heat,
        schedules=facts.burnout_schedules,
        kiln=_kiln(kiln, workshop),
        water_per_100=habits.water_per_100,
    )
    return {**_plain(found.result), "remarks": _remarks(found)}


def _kiln(name: str | None, workshop: Workshop | None) -> Kiln | None:
    """The kiln of that name; without a name the workshop's first, without a workshop none."""
    kilns = workshop.kiln if workshop else ()
    if name is None:
        return kilns[0] if kilns else None
    for one in kilns:
        if one.name == name:
            return one
    known = ", ".join(one.name for one in kilns)
    right = f"known there: {known}" if known else "name a workshop's file with --workshop that has a [[kiln]]"
    raise bad("--kiln", f"no kiln is called '{name}'", right)


def mark(market: str, alloy: str, mass: str) -> Answer:
    """What must, may and must never be stamped on a ring of that alloy and mass of metal."""
    from ringwright.steps import mark as step

    facts = _facts()
    row = used(facts.alloys, alloy, "alloy")
    found = step.law(market, row.metal, row.fineness_permille, measure(mass, "g", "--mass"), step.rows_of(facts))
    return {**_plain(found.result), "remarks": _remarks(found)}


def weigh(model: Path, units: str | None = None) -> Answer:
    """What a model file holds: its unit, whether it is a solid, volume, mass in every alloy, and its finger hole."""
    from ringwright.steps import metal, piece

    facts = _facts()
    drawn = piece.read(_bytes(model), model.suffix, units, model.name, facts.piece_limits)
    alloys = tuple(
        metal.resolve(
            key, facts.alloys, facts.elements, heats=facts.element_heats, rules=facts.metal_rules, casting=False
        ).result
        for key in dict.fromkeys(row.key for row in facts.alloys)
    )
    weight = piece.weigh(drawn, alloys)
    remarks = drawn.remarks
    hole: Answer | None = None
    try:
        ring, found = piece.measure(drawn, (), facts.piece_limits)
        remarks = found.remarks
        hole = {
            "diameter_mm": ring.hole.diameter_mm,
            "roundness_mm": ring.hole.roundness_mm,
            "axis": ring.hole.axis,
            "centre_mm": ring.hole.centre_mm,
        }
    except BadInput as fault:
        what, right = fault.mistakes[0].what, fault.mistakes[0].right
        remarks = (
            *remarks,
            Remark("piece", Level.HEED, "no-hole", f"No finger hole: {what}.", change=right or "see the model"),
        )
    answer = {
        "units": drawn.units,
        "units_from": drawn.units_from,
        "closed": drawn.closed_as_drawn,
        "mended": drawn.mended,
        "volume_mm3": weight.volume_mm3,
        "area_mm2": weight.area_mm2,
        "mass_g": weight.mass_g,
        "mass_spread_g": weight.mass_spread_g,
        "stones": tuple(stone.name for stone in drawn.stones),
        "hole": hole,
    }
    return {**_plain(answer), "remarks": [remark_data(remark) for remark in remarks]}


def _bytes(path: Path) -> bytes:
    try:
        return path.read_bytes()
    except FileNotFoundError as fault:
        raise bad(str(path), "there is no such file", "check the name and the folder") from fault
    except OSError as fault:
        raise bad(str(path), f"cannot be read ({fault.strerror})", "name a model file") from fault


def dossier_schema() -> Answer:
    """The JSON Schema of ``dossier.json``."""
    from ringwright.papers.schema import dossier_schema as schema_of
    from ringwright.terms.making import Making

    return schema_of(Making)


def _facts() -> Facts:
    from ringwright import facts

    return facts.load()


def _plain(value: Any) -> Any:
    from ringwright.papers.plain import plain

    return plain(value)


def _remarks(outcome: Outcome[Any]) -> list[dict[str, Any]]:
    return [remark_data(remark) for remark in outcome.remarks]


def read_stock(path: Path | None) -> Workshop | None:
    """The workshop in a file, or None where no file is named."""
    from ringwright.desk.reading import read_workshop

    return read_workshop(path) if path is not None else None


def table(name: str | None = None, key: str | None = None) -> list[Answer]:
    """The tables of the facts (name, rows, what a row is), or the rows of one, all or those of one key.

    Raises :class:`BadInput` for an unknown table or key, with the nearest known.
    """
    import dataclasses
    import difflib

    facts = _facts()
    names = [field.name for field in dataclasses.fields(facts)]
    if name is None:
        return [
            {"table": one, "rows": len(getattr(facts, one)), "row": _first_line(getattr(facts, one))} for one in names
        ]
    if name not in names:
        near = difflib.get_close_matches(name, names, n=1, cutoff=0.5)
        right = f"did you mean '{near[0]}'?" if near else f"known: {', '.join(names)}"
        raise bad("table", f"there is no table '{name}'", right)
    rows = getattr(facts, name)
    if key is not None:
        used(rows, key, f"row of {name}")
        rows = [row for row in rows if row.key == key]
    found: list[Answer] = _plain(tuple(rows))
    return found


def _first_line(rows: tuple[Any, ...]) -> str:
    """What a row of a table is, as its class says."""
    if not rows:
        return ""
    text = re.sub(r"``|:class:`~?(?:[\w.]*\.)?(\w+)`", r"\1", (type(rows[0]).__doc__ or "").strip().split("\n\n")[0])
    return " ".join(text.split())
