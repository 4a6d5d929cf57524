"""The layout as a drawing for a machine or a hand: SVG and DXF, in mm, the same text for the same layout.

The drawing is the developed inside of the band, as a reader sees it who looks from the finger's axis at the wall.
``mirrored`` turns it left to right, for a stamp, a transfer, or a machine that looks at the strip from outside.
"""

from __future__ import annotations

import io
import re
from xml.sax.saxutils import escape

from ringwright.steps.mark._letters import Line, drawn
from ringwright.steps.mark._rows import limit_of
from ringwright.terms.mark import Layout, MarkingRows, PlacedRun

_GUIDES = "GUIDES"
_ENGRAVE = "ENGRAVE"


def to_svg(
    layout: Layout, rows: MarkingRows, mirrored: bool = False, outlined: bool = False, font: bytes | None = None
) -> str:
    """The layout as an SVG drawing of the strip in mm: guides dashed, text as lines, or as outlines where asked."""
    length, width = layout.strip_length_mm, layout.strip_width_mm
    line_mm = _line_mm(rows)
    guide = f'fill="none" stroke="#808080" stroke-width="{_number(line_mm / 2)}" stroke-dasharray="0.6 0.4"'
    shapes = [
        f'  <path class="guide" {guide} d="{_d(line, layout, mirrored, closed)}"/>' for line, closed in _guides(layout)
    ]
    for run in layout.runs:
        if run.kind == "reserved":
            shapes.append(f'  <path class="reserved" {guide} d="{_d(_box(run), layout, mirrored, True)}"/>')
            continue
        lines, closed = _text(run, rows, outlined, font)
        pen = (
            'fill="#000000" fill-rule="evenodd"'
            if closed
            else f'fill="none" stroke="#000000" stroke-width="{_number(line_mm)}" stroke-linecap="round" '
            'stroke-linejoin="round"'
        )
        d = " ".join(_d(line, layout, mirrored, closed) for line in lines)
        shapes.append(f'  <path class="{run.kind}" {pen} d="{d}"><title>{escape(run.text)}</title></path>')
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{_number(length)}mm" height="{_number(width)}mm" '
        f'viewBox="0 0 {_number(length)} {_number(width)}">'
    )
    title = f"  <title>Inside of the band, cut at the bottom of the shank{', mirrored' if mirrored else ''}</title>"
    return "\n".join([head, title, *shapes, "</svg>", ""])


def to_dxf(
    layout: Layout, rows: MarkingRows, mirrored: bool = False, outlined: bool = False, font: bytes | None = None
) -> str:
    """The layout as a DXF drawing (release 2000, units mm): layer GUIDES, and layer ENGRAVE with the lines to cut."""
    from ezdxf.filemanagement import new
    from ezdxf.units import MM

    document = new("R2000", units=MM)
    document.layers.add(_GUIDES, color=8)
    document.layers.add(_ENGRAVE, color=7)
    space = document.modelspace()
    for line, closed in _guides(layout):
        space.add_lwpolyline(_turned(line, layout, mirrored), close=closed, dxfattribs={"layer": _GUIDES})
    for run in layout.runs:
        if run.kind == "reserved":
            space.add_lwpolyline(_turned(_box(run), layout, mirrored), close=True, dxfattribs={"layer": _GUIDES})
            continue
        lines, closed = _text(run, rows, outlined, font)
        for line in lines:
            space.add_lwpolyline(_turned(line, layout, mirrored), close=closed, dxfattribs={"layer": _ENGRAVE})
    stream = io.StringIO()
    document.write(stream)
    return _without_clock(stream.getvalue())


def _line_mm(rows: MarkingRows) -> float:
    """Width of an engraved line."""
    return limit_of("line", rows).line_width_mm or 0.0


def _text(run: PlacedRun, rows: MarkingRows, outlined: bool, font: bytes | None) -> tuple[tuple[Line, ...], bool]:
    """A run's lines in mm on the strip, and whether they are closed."""
    drawing = drawn(run.text, rows.letters, font)
    height = run.height_mm
    lines = tuple(tuple((run.start_mm + x * height, run.base_mm + y * height) for x, y in one) for one in drawing.lines)
    if drawing.closed or not outlined:
        return lines, drawing.closed
    return _outlines(lines, _line_mm(rows)), True


def _outlines(lines: tuple[Line, ...], line_mm: float) -> tuple[Line, ...]:
    """What a graver of that width cuts along the lines: closed outlines, holes among them."""
    from shapely import MultiLineString
    from shapely.geometry import MultiPolygon

    cut = MultiLineString([line for line in lines if len(line) > 1]).buffer(line_mm / 2, quad_segs=6)
    areas = cut.geoms if isinstance(cut, MultiPolygon) else (cut,)
    rings = [ring for area in areas if not area.is_empty for ring in (area.exterior, *area.interiors)]
    return tuple(tuple((float(x), float(y)) for x, y in ring.coords[:-1]) for ring in rings)


def _guides(layout: Layout) -> list[tuple[Line, bool]]:
    """The strip's edge, the ends of the sizing area and of the head's openings."""
    length, width = layout.strip_length_mm, layout.strip_width_mm
    half = layout.sizing_area_mm / 2
    arcs = [half, length - half]
    if layout.open_from_mm is not None and layout.open_to_mm is not None:
        arcs += [layout.open_from_mm, layout.open_to_mm]
    edge: Line = ((0.0, 0.0), (length, 0.0), (length, width), (0.0, width))
    return [(edge, True), *((((arc, 0.0), (arc, width)), False) for arc in arcs)]


def _box(run: PlacedRun) -> Line:
    """The place of a reserved run."""
    low, high = run.base_mm, run.base_mm + run.height_mm
    return ((run.start_mm, low), (run.end_mm, low), (run.end_mm, high), (run.start_mm, high))


def _turned(line: Line, layout: Layout, mirrored: bool) -> list[tuple[float, float]]:
    """The line as it is drawn, to the micrometre."""
    return [(round(layout.strip_length_mm - x if mirrored else x, 6), round(y, 6)) for x, y in line]


def _d(line: Line, layout: Layout, mirrored: bool, closed: bool) -> str:
    """The line as the data of an SVG path; there y points down."""
    points = _turned(line, layout, mirrored)
    words = [f"{_number(x)} {_number(layout.strip_width_mm - y)}" for x, y in points]
    return "M" + " L".join(words) + (" Z" if closed else "")


def _number(value: float) -> str:
    return f"{round(value, 3) + 0.0:g}" if abs(value) < 1e6 else f"{value:.3f}"


def _without_clock(text: str) -> str:
    """The drawing without the times and chance numbers that the library writes, so that it stays the same."""
    text = re.sub(r"(\$TDU?(?:CREATE|UPDATE)\n *40\n)[^\n]*", r"\g<1>2451544.5", text)
    text = re.sub(r"(\$(?:FINGERPRINT|VERSION)GUID\n *2\n)[^\n]*", r"\g<1>{00000000-0000-0000-0000-000000000000}", text)
    return re.sub(r"(?m)^(\d+\.\d+[^\n@]*) @ \d{4}-[^\n]*$", r"\g<1>", text)
