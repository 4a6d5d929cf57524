"""Model files read: units settled, mended and told, sorted into metal and stones; and each bad file in one sentence."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ringwright.science import solids, sweeps
from ringwright.steps.piece import _mend, _raw, _threemf, measure, read
from ringwright.terms.body import Mesh, Role
from ringwright.terms.mistake import BadInput
from ringwright.terms.piece import Drawn, UnitsFrom
from ringwright.terms.remark import Level
from tests.science.test_solids import rotation
from tests.steps import model_files as files
from tests.steps.model_files import RING, block, stl, stone, text_stl
from tests.steps.piece_facts import LIMITS
from tests.steps.step_files import assembly_step, tube_step

DATA = Path(__file__).parent.parent / "data"
VOLUME = solids.volume(RING)


def drawn(data: bytes, suffix: str = ".stl", units: str | None = "mm") -> Drawn:
    """Declared units spare the search for the hole; where units are the matter they are None."""
    return read(data, suffix, units, f"ring{suffix}", LIMITS)


def refused(data: bytes, suffix: str = ".stl", units: str | None = "mm") -> str:
    """The one sentence with which a file is refused."""
    with pytest.raises(BadInput) as told:
        drawn(data, suffix, units)
    (mistake,) = told.value.mistakes
    assert mistake.where.startswith(f"ring{suffix}")
    assert mistake.right, "it says what would be right"
    assert "\n" not in str(mistake)
    return str(mistake)


def kinds(model: Drawn) -> dict[str, Level]:
    return {remark.kind: remark.level for remark in model.remarks}


@pytest.mark.parametrize(
    ("data", "suffix", "form"),
    [
        (stl(RING), ".stl", "STL, binary"),
        (text_stl(RING).encode(), ".STL", "STL, text"),
        (text_stl(RING).upper().replace("\n", "\r\n").encode(), ".stl", "STL, text"),
        (files.obj(("ring", RING)), ".obj", "OBJ"),
        (files.ply(RING), ".ply", "PLY"),
        (files.ply(RING, binary=False), ".ply", "PLY"),
        (files.threemf(("ring", "gold", RING)), ".3mf", "3MF"),
        (files.glb(("ring", "gold", RING)), ".glb", "GLB"),
    ],
    ids=["stl", "text stl", "loud text stl", "obj", "ply", "text ply", "3mf", "glb"],
)
def test_each_format_gives_the_same_ring(data: bytes, suffix: str, form: str) -> None:
    model = drawn(data, suffix, None)
    assert model.format == form
    assert model.units == ("m" if form == "GLB" else "mm")
    assert solids.volume(model.metal) == pytest.approx(VOLUME, rel=1e-6)
    assert solids.is_closed(model.metal)
    assert model.closed_as_drawn
    assert model.mended == ()
    assert all(level is Level.FINE for level in kinds(model).values())


def test_a_step_file_is_read_in_its_own_unit() -> None:
    exact = np.pi * (10.25**2 - 8.65**2) * 3.0
    for unit, per in (("mm", 1.0), ("in", 25.4), ("m", 1000.0)):
        model = drawn(tube_step(8.65 / per, 10.25 / per, 3.0 / per, unit), ".step", None)
        assert (model.units, model.units_from) == (unit, UnitsFrom.FILE)
        assert solids.volume(model.metal) == pytest.approx(exact, rel=1e-3)
        assert solids.is_closed(model.metal)
        piece, _ = measure(model, (), LIMITS)
        assert piece.hole.diameter_mm == pytest.approx(17.3, abs=1e-3)


def test_a_step_assembly_is_put_together() -> None:
    """A band with a bar that lies half in it: two parts, one solid."""
    model = drawn(assembly_step(8.65, 10.25, 3.0), ".stp", None)
    assert len(model.bodies) == 1
    assert len(solids.shells(model.metal)) == 1
    assert any("2 overlapping shells united" in said for said in model.mended)
    assert kinds(model)["mended"] is Level.HEED


def test_a_real_ring_of_a_stranger_is_read_mended_and_measured() -> None:
    model = drawn((DATA / "open-ring.stl").read_bytes(), ".stl", None)
    assert model.mended == ("29 triangles wound the wrong way turned round",)
    assert (model.units, model.units_from) == ("mm", UnitsFrom.GUESSED)
    assert kinds(model) == {"units": Level.FINE, "mended": Level.FINE}
    assert solids.is_closed(model.metal)
    assert solids.volume(model.metal) > 0
    piece, outcome = measure(model, (), LIMITS)
    assert 20.0 < piece.hole.diameter_mm < 21.5
    assert outcome.result.hole_axis == pytest.approx((0.0, 0.0, 1.0), abs=1e-6)


SMALL = sweeps.revolved(np.array([[8.65, -1.5], [10.25, -1.5], [10.25, 1.5], [8.65, 1.5]]), 24)
SPOILED = {
    ".stl": stl(SMALL),
    ".obj": files.obj(("ring", SMALL)),
    ".ply": files.ply(SMALL),
    ".3mf": files.threemf(("ring", "gold", SMALL)),
    ".glb": files.glb(("ring", "gold", SMALL), scale=1.0),
}


# units


@settings(max_examples=8, deadline=None)
@given(st.sampled_from(["mm", "cm", "m", "in"]), st.floats(11.0, 25.0), st.integers(0, 1000))
def test_the_unit_is_guessed_from_the_hole_however_the_model_is_turned(unit: str, hole: float, seed: int) -> None:
    scale = hole / 17.3 / _raw.UNITS_MM[unit]
    model = drawn(stl(RING.moved(rotation(seed) * scale, scale * np.array([3.0, -40.0, 8.0]))), ".stl", None)
    assert (model.units, model.units_from) == (unit, UnitsFrom.GUESSED)
    assert solids.volume(model.metal) == pytest.approx(VOLUME * (hole / 17.3) ** 3, rel=1e-4)


def test_a_declared_unit_wins_and_an_odd_one_is_told() -> None:
    model = drawn(stl(RING.scaled(1 / 25.4)), units="inches")
    assert (model.units, model.units_from) == ("in", UnitsFrom.DECLARED)
    assert solids.volume(model.metal) == pytest.approx(VOLUME, rel=1e-5)
    assert kinds(model) == {}
    odd = drawn(stl(RING), units="in")
    assert solids.volume(odd.metal) == pytest.approx(VOLUME * 25.4**3, rel=1e-5)
    (remark,) = odd.remarks
    assert remark.level is Level.HEED
    assert remark.says == "Drawn in inches the largest extent is about 521 mm; in mm it would be about 20 mm"
    assert remark.figure == pytest.approx(520.7, rel=1e-3)
    assert remark.limit == 80.0


def test_a_file_that_states_one_unit_while_another_is_declared_is_told() -> None:
    model = drawn(files.threemf(("ring", "gold", RING), unit="centimeter"), ".3mf", "mm")
    assert model.units == "mm"
    assert "states cm; taken as mm, as declared" in model.remarks[0].says


def test_a_glb_in_millimetres_is_seen_through() -> None:
    model = drawn(files.glb(("ring", "gold", RING), scale=1.0), ".glb", None)
    assert (model.units, model.units_from) == ("mm", UnitsFrom.GUESSED)
    assert solids.volume(model.metal) == pytest.approx(VOLUME, rel=1e-5)
    assert kinds(model)["units"] is Level.HEED


def test_a_3mf_in_inches_keeps_its_unit() -> None:
    model = drawn(files.threemf(("ring", "gold", RING.scaled(1 / 25.4)), unit="inch"), ".3mf", None)
    assert (model.units, model.units_from) == ("in", UnitsFrom.FILE)
    assert solids.volume(model.metal) == pytest.approx(VOLUME, rel=1e-6)


def test_a_model_without_a_hole_is_guessed_by_its_size() -> None:
    model = drawn(stl(block(0.5, 0.4, 0.3, (0, 0, 0))), ".stl", None)
    assert model.units == "in"
    assert solids.volume(model.metal) == pytest.approx(0.06 * 25.4**3, rel=1e-5)


def test_a_unit_that_is_none_is_told() -> None:
    assert refused(stl(RING), units="furlong") == "ring.stl, units: 'furlong' is no unit of length; mm, cm, m or in"


# mended


def test_a_mesh_inside_out_is_turned() -> None:
    model = drawn(stl(solids.reversed_faces(RING)))
    assert solids.volume(model.metal) == pytest.approx(VOLUME, rel=1e-6)
    assert model.mended == ("1 shell that faced inward turned inside out",)


def test_double_faces_and_faces_without_area_are_dropped() -> None:
    extra = Mesh(RING.vertices_mm, np.concatenate([RING.faces, RING.faces[:3], [[0, 0, 5]]]))
    model = drawn(files.ply(extra), ".ply")
    assert model.mended == ("1 triangle without area dropped", "3 double triangles dropped")
    assert kinds(model)["mended"] is Level.FINE
    assert solids.volume(model.metal) == pytest.approx(VOLUME)


def test_edges_that_nearly_meet_are_joined() -> None:
    corners = RING.corners_mm.reshape(-1, 3)
    apart = corners + np.random.default_rng(4).uniform(-0.0005, 0.0005, corners.shape)
    model = drawn(stl(Mesh(apart, np.arange(len(apart)).reshape(-1, 3))))
    assert solids.is_closed(model.metal)
    assert not model.closed_as_drawn
    assert "of open edges joined within 0.002 mm" in model.mended[0]
    assert kinds(model)["mended"] is Level.HEED
    assert solids.volume(model.metal) == pytest.approx(VOLUME, rel=1e-3)


def test_a_pinhole_is_closed_and_a_hole_is_not() -> None:
    fine = sweeps.revolved(np.stack([9.7 + np.cos(sweeps.turns(60)), np.sin(sweeps.turns(60))], axis=1), 300)
    model = drawn(stl(Mesh(fine.vertices_mm, np.delete(fine.faces, [7, 9000], axis=0))))
    assert model.mended[0].startswith("2 pinholes closed, the largest 0.0")
    assert not model.closed_as_drawn
    assert solids.volume(model.metal) == pytest.approx(solids.volume(fine), rel=1e-5)
    said = refused(stl(Mesh(RING.vertices_mm, RING.faces[1:])))
    assert said.startswith(
        "ring.stl: its surface has 1 opening, the largest 1.68 mm across near (9.18, 0.31, -1.50); close it"
    )


def test_overlapping_shells_are_united_and_not_weighed_twice() -> None:
    head = block(4.0, 4.0, 4.0, (0.0, 11.0, 0.0))
    model = drawn(stl(solids.joined([RING, head])))
    union = solids.volume(solids.united([RING, head]))
    assert solids.volume(model.metal) == pytest.approx(union, rel=1e-6)
    doubled = VOLUME + 64.0 - union
    assert model.mended == (f"2 overlapping shells united; {doubled:.2f} mm3 would have counted twice",)


def test_a_shell_apart_counts_and_is_told() -> None:
    model = drawn(stl(solids.joined([RING, block(2.0, 2.0, 2.0, (0.0, 12.0, 0.0))])))
    assert solids.volume(model.metal) == pytest.approx(VOLUME + 8.0, rel=1e-6)
    (remark,) = [r for r in model.remarks if r.kind == "loose-shell"]
    assert remark.level is Level.HEED
    assert remark.figure == pytest.approx(0.75, abs=0.01)
    touching = drawn(stl(solids.joined([RING, block(2.0, 2.0, 2.0, (0.0, 11.0, 0.0))])))
    assert "loose-shell" not in kinds(touching), "joined to the ring, the remark goes away"


def test_a_hollow_is_told_from_metal_counted_twice() -> None:
    big = sweeps.revolved(np.array([[8.65, -3.0], [13.0, -3.0], [13.0, 3.0], [8.65, 3.0]]), 128)
    inner = block(2.0, 2.0, 2.0, (0.0, 10.8, 0.0))
    hollow = drawn(stl(solids.joined([big, solids.reversed_faces(inner)])))
    assert solids.volume(hollow.metal) == pytest.approx(solids.volume(big) - 8.0, rel=1e-6)
    assert kinds(hollow)["hollow"] is Level.HEED
    inside_out = drawn(stl(solids.joined([solids.reversed_faces(big), inner])))
    assert solids.volume(inside_out.metal) == pytest.approx(solids.volume(big) - 8.0, rel=1e-6)
    buried = drawn(stl(solids.joined([big, inner])))
    assert solids.volume(buried.metal) == pytest.approx(solids.volume(big), rel=1e-6)
    assert buried.mended == ("1 shell wholly inside the metal left out",)


def test_parts_that_touch_in_an_edge_are_read() -> None:
    one, two = block(2.0, 2.0, 2.0, (0.0, 11.0, 0.0)), block(2.0, 2.0, 2.0, (2.0, 13.0, 0.0))
    model = drawn(stl(solids.joined([RING, one, two])))
    assert solids.is_closed(model.metal)
    assert any("split where parts only touch" in said for said in model.mended)


def test_a_solid_cut_up_by_colour_is_joined() -> None:
    half = RING.corners_mm[:, :, 0].mean(axis=1) > 0
    left, right = solids.part(RING, half), solids.part(RING, ~half)
    for data, suffix in (
        (files.glb(("a", "rhodium", left), ("b", "plain", right), scale=1.0), ".glb"),
        (files.obj(("a", left), ("b", right), by="usemtl"), ".obj"),
    ):
        model = drawn(data, suffix)
        assert solids.volume(model.metal) == pytest.approx(VOLUME, rel=1e-6)
        assert "2 open bodies joined to closed ones" in model.mended


# what cannot be mended


def test_a_surface_that_crosses_itself_is_refused_with_the_place() -> None:
    ring = sweeps.revolved(np.stack([10.0 + np.cos(sweeps.turns(24)), np.sin(sweeps.turns(24))], axis=1), 64)
    points = ring.vertices_mm.copy()
    points[(points[:, 0] > 7) & (np.abs(points[:, 1]) < 3.5) & (points[:, 2] > 0.2), 2] -= 3.0
    said = refused(stl(Mesh(points, ring.faces)))
    assert said.startswith("ring.stl: its surface crosses itself (")
    assert "mm deep near (8.89, -3.02, -0.97)" in said
    assert "unite the parts in the modeller" in said


def test_a_surface_that_hardly_crosses_itself_is_read_and_told() -> None:
    """One vertex is pushed through the wall behind it by a twentieth of a millimetre."""
    ring = sweeps.revolved(np.stack([10.0 + np.cos(sweeps.turns(24)), np.sin(sweeps.turns(24))], axis=1), 128)
    points = ring.vertices_mm.copy()
    k = int(np.argmin(np.linalg.norm(points - np.array([11.0, 0.0, 0.0]), axis=1)))
    points[k] = (8.95, 0.2, 0.1)
    model = drawn(stl(Mesh(points, ring.faces)))
    (remark,) = [r for r in model.remarks if r.kind == "crossing"]
    assert remark.level is Level.HEED
    assert remark.figure is not None
    assert 0.0 <= remark.figure < 0.1
    assert "7 triangles" in remark.says


@pytest.mark.parametrize(
    ("data", "suffix", "says"),
    [
        (b"", ".stl", "the file is empty"),
        (stl(RING)[:-120], ".stl", "its head says 1,024 triangles and 1,021 are there; the file was cut short"),
        (stl(RING)[:60], ".stl", "it has 60 bytes, an STL has 84 at least"),
        (stl(RING) + b"\0" * 500, ".stl", "its head says 1,024 triangles and its length 1,034"),
        (b"this is a letter to my goldsmith\n" * 40, ".stl", "it begins with 'this is a letter to my goldsmith'"),
        (text_stl(RING)[:20_000].encode(), ".stl", "the file was cut short"),
        (text_stl(RING).replace("endsolid ring", "").encode(), ".stl", "it ends in line 7,171 without 'endsolid'"),
        (b"PK\x03\x04 no zip", ".3mf", "it is no whole 3MF"),
        (files.threemf(("ring", "gold", RING))[:-900], ".3mf", "it is no whole 3MF"),
        (b"o nothing\n# here\n", ".obj", "it holds no vertices and is no OBJ"),
        (b"v 0 0 0\nv 1 0 zero\n", ".obj", "line 2: 'v 1 0 zero' is no vertex or face"),
        (b"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 9\n", ".obj", "triangle 1 names a vertex that is not there"),
        (files.ply(RING)[:-100], ".ply", "the PLY cannot be read to its end"),
        (b"plywood", ".ply", "it is no PLY"),
        (files.glb(("ring", "gold", RING))[:-400], ".glb", "the GLB's head says"),
        (b"glTF" + b"\0" * 60, ".glb", "the GLB's head is not as it must be"),
        (b"ISO-10303-21;\nHEADER;", ".step", "it ends without 'END-ISO-10303-21'"),
        (b"a drawing", ".step", "it is no STEP file"),
        (stl(RING), ".blend", "'.blend' is no kind of model that is read; STL, 3MF, OBJ, PLY, GLB or STEP"),
        (stl(Mesh(np.zeros((3, 3)), np.array([[0, 1, 2]]))), ".stl", "all its corners lie in one place"),
        (stl(Mesh(np.eye(3), np.array([[0, 1, 2]]))), ".stl", "its surface has 1 opening"),
        (stl(RING.scaled(1e9)), ".stl", "it measures 2.05e+10 mm; see in which unit it was exported"),
        (stl(RING.scaled(1e-6)), ".stl", "it measures 2.05e-05 mm"),
        (stl(RING.moved(np.eye(3), np.array([1e6, 0, 0]))), ".stl", "it lies 1e+06 mm from the origin, where 32-bit"),
        (tube_step(1e6, 2e6, 3.0), ".step", "it measures 4e+06 mm"),
    ],
)  # fmt: skip
def test_a_bad_file_is_refused_in_one_sentence(data: bytes, suffix: str, says: str) -> None:
    assert says in refused(data, suffix)


def test_a_corner_that_is_no_number_is_told_with_its_line_or_its_triangle() -> None:
    lines = text_stl(RING).splitlines()
    lines[17] = "  vertex nan 1 2"
    assert "line 18: the corner 'nan 1 2' is not three numbers" in refused("\n".join(lines).encode())
    lines[17] = "  vertex 1 2 inf"
    assert "line 18: the corner '1 2 inf' is not three numbers" in refused("\n".join(lines).encode())
    lines[17] = "  vertex 1 2"
    assert "line 18: the corner '1 2" in refused("\n".join(lines).encode())
    points = RING.vertices_mm.copy()
    points[int(RING.faces[16, 1])] = np.nan
    first = int(np.flatnonzero((RING.faces == RING.faces[16, 1]).any(axis=1))[0]) + 1
    assert f"triangle {first} has a corner that is not a number" in refused(stl(Mesh(points, RING.faces)))
    assert f"triangle {first} has a corner that is not a number" in refused(files.ply(Mesh(points, RING.faces)), ".ply")


def test_a_3mf_that_unfolds_to_more_than_may_be_is_refused_before_it_is_unfolded(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(_threemf, "MAX_UNPACKED", 2**20)
    bomb = files.threemf(("ring", "gold", RING), extra=" " * 3 * 2**20)
    assert len(bomb) < 2**16
    assert "it unfolds to 3 MiB; at most 1 MiB are read" in refused(bomb, ".3mf")


def test_a_3mf_of_copies_of_copies_is_refused() -> None:
    """Ten components of ten components of ten … : 10^6 rings from one."""
    levels = ""
    for k in range(2, 8):
        parts = f'<component objectid="{k - 1}"/>' * 10
        levels += f'<object id="{k}" type="model"><components>{parts}</components></object>'
    said = refused(files.threemf(("ring", "gold", RING), extra=levels, build='<item objectid="7"/>'), ".3mf")
    assert "triangles; at most" in said or "places more than" in said


def test_a_3mf_with_entities_or_broken_parts_is_refused() -> None:
    lol = '<!DOCTYPE x [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;">]>'
    assert "declares a document type" in refused(files.threemf(("ring", "gold", RING), head=lol), ".3mf")
    missing = files.threemf(("ring", "gold", RING), build='<item objectid="5"/>')
    assert "names the body 5, which is not there" in refused(missing, ".3mf")
    loop = '<object id="2" type="model"><components><component objectid="2"/></components></object>'
    assert "nests its bodies too deep" in refused(
        files.threemf(("ring", "gold", RING), extra=loop, build='<item objectid="2"/>'), ".3mf"
    )
    assert "is not as it must be" in refused(
        files.threemf(("ring", "gold", RING), build='<item objectid="1" transform="1 0 0"/>'), ".3mf"
    )


def test_a_3mf_places_turns_and_mirrors_its_bodies() -> None:
    mirror = '<item objectid="1" transform="-1 0 0 0 0 1 0 1 0 5 6 7"/>'
    model = drawn(files.threemf(("ring", "gold", RING), build=mirror), ".3mf")
    assert solids.volume(model.metal) == pytest.approx(VOLUME)
    assert solids.mass_properties(model.metal).centroid_mm == pytest.approx([5.0, 6.0, 7.0], abs=1e-9)
    assert model.mended == ()


def test_a_glb_that_asks_for_other_files_or_too_much_is_refused() -> None:
    tree: dict[str, object] = {"asset": {"version": "2.0"}, "buffers": [{"byteLength": 4, "uri": "ring.bin"}]}
    assert "keeps its shape in another file" in refused(files.pack_glb(tree, b""), ".glb")
    bomb: dict[str, object] = {"accessors": [{"count": 10**11, "componentType": 5126, "type": "VEC3"}]}
    assert "triangles; at most" in refused(files.pack_glb(bomb, b""), ".glb")
    packed: dict[str, object] = {"extensionsRequired": ["KHR_draco_mesh_compression"]}
    assert "is packed" in refused(files.pack_glb(packed, b""), ".glb")


def test_too_many_triangles_are_refused_by_the_head_alone() -> None:
    head = b"\0" * 80 + (_raw.MAX_TRIANGLES + 1).to_bytes(4, "little")
    data = head + bytes(50 * (_raw.MAX_TRIANGLES + 1))
    said = refused(data)
    assert said.startswith("ring.stl: it has 6,000,001 triangles; at most 6,000,000 are read")
    assert "coarser" in said
    assert "unfold" not in said
    claims = files.ply(RING).replace(b"element face 1024", b"element face 99000000000")
    assert "triangles; at most" in refused(claims, ".ply")


def test_a_large_mesh_is_thinned_out_and_stays_what_it_is(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(_mend, "KEEP_TRIANGLES", 20_000)
    fine = sweeps.revolved(np.stack([9.7 + np.cos(sweeps.turns(150)), np.sin(sweeps.turns(150))], axis=1), 400)
    model = drawn(stl(fine.moved(rotation(3), np.array([1.0, 2.0, 3.0]))))
    assert len(model.metal.faces) <= 20_000
    assert solids.is_closed(model.metal)
    assert model.mended[0].startswith("thinned out from 120,000 to 20,000 triangles, volume changed by -0.0")
    assert solids.volume(model.metal) == pytest.approx(solids.volume(fine), rel=1e-3)
    piece, _ = measure(model, (), LIMITS)
    assert piece.hole.diameter_mm == pytest.approx(17.4, abs=0.01)


@settings(max_examples=40, deadline=None)
@given(st.sampled_from([".stl", ".obj", ".ply", ".3mf", ".glb"]), st.integers(0, 2**32 - 1))
def test_a_file_spoiled_anywhere_is_read_or_refused_in_a_sentence(suffix: str, seed: int) -> None:
    """Cut short, bytes changed, or a piece missing: never anything but a model or BadInput."""
    whole = bytearray(SPOILED[suffix])
    rng = np.random.default_rng(seed)
    how = rng.integers(3)
    if how == 0:
        del whole[rng.integers(len(whole)) :]
    elif how == 1:
        for place in rng.integers(0, len(whole) if seed % 2 else 400, 8):
            whole[place] = rng.integers(256)
    else:
        start = rng.integers(len(whole))
        del whole[start : start + rng.integers(200)]
    try:
        model = drawn(bytes(whole), suffix)
    except BadInput as told:
        assert "\n" not in str(told.mistakes[0])
    else:
        assert solids.is_closed(model.metal)


@pytest.mark.slow
def test_five_million_triangles_are_read() -> None:
    section = np.stack([9.7 + np.cos(sweeps.turns(1000)), np.sin(sweeps.turns(1000))], axis=1)
    fine = sweeps.revolved(section, 2500)
    data, volume = stl(fine), solids.volume(fine)
    del fine
    model = drawn(data)
    assert model.mended[0].startswith("thinned out from 5,000,000 to 400,000 triangles, volume changed by -0.00")
    assert solids.is_closed(model.metal)
    assert solids.volume(model.metal) == pytest.approx(volume, rel=1e-4)


# stones


def test_a_stone_is_told_by_its_name_its_material_or_its_shape() -> None:
    gem = stone().moved(np.array([[0.0, 1, 0], [0, 0, 1], [1, 0, 0]]), np.array([0.0, 14.0, 0.0]))
    for data, suffix, name, level in (
        (files.threemf(("shank", "gold", RING), ("main", "Sapphires, blue", gem)), ".3mf", "main", Level.FINE),
        (files.obj(("ring", RING), ("centre_stone", gem)), ".obj", "centre_stone", Level.FINE),
        (files.glb(("a", "x", RING), ("b", "y", gem), scale=1.0), ".glb", "b", Level.HEED),
        (stl(solids.joined([RING, gem])), ".stl", "stone 1", Level.HEED),
    ):
        model = drawn(data, suffix)
        (found,) = model.stones
        assert found.name == name
        assert found.role is Role.STONE
        assert solids.volume(found.mesh) == pytest.approx(solids.volume(gem), rel=1e-4)
        assert solids.volume(model.metal) == pytest.approx(VOLUME, rel=1e-4)
        assert kinds(model)["stone"] is level


def test_what_is_convex_but_no_stone_is_metal() -> None:
    """A claw, a bead and a bar are convex too; a stone called a bezel is metal."""
    claw = sweeps.rod((0.0, 9.5, 0.0), (0.0, 13.0, 1.0), 0.5, 32, 0.5)
    turn = np.linspace(-np.pi / 2, np.pi / 2, 13)
    profile = np.stack([0.8 * np.cos(turn), 0.8 * np.sin(turn)], axis=1)
    profile[[0, -1], 0] = 0.0
    bead = sweeps.turned(profile, 24).moved(np.eye(3), np.array([3.0, 10.0, 0.0]))
    model = drawn(stl(solids.joined([RING, claw, bead, block(1.0, 5.0, 1.0, (0, -11.0, 0))])))
    assert model.stones == ()
    named = drawn(
        files.obj(("ring", RING), ("bezel_head", stone().moved(np.eye(3), np.array([0.0, 10.0, 0.0])))), ".obj"
    )
    assert named.stones == ()


def test_the_only_body_is_metal_whatever_its_shape() -> None:
    model = drawn(stl(stone()), units="mm")
    assert solids.volume(model.metal) == pytest.approx(solids.volume(stone()), rel=1e-5)


def test_reading_is_pure() -> None:
    data = files.threemf(("shank", "gold", RING), ("main", "ruby", stone().moved(np.eye(3), np.array([0, 14.0, 0]))))
    assert drawn(data, ".3mf") == drawn(data, ".3mf")
