"""What is written is what another program reads: names, units, shape and colours."""

from __future__ import annotations

import io
import zipfile
from typing import Any

import numpy as np
import pytest

from ringwright.papers.meshfiles import SCALE, UNKNOWN, colours, glb, stl, threemf
from ringwright.terms.body import Body, Field, Mesh, Role

CORNERS = np.array([[0, 0, 0], [7, 0, 0], [0, 5, 0], [0, 0, 3.25]])
MESH = Mesh(CORNERS, np.array([[0, 2, 1], [0, 1, 3], [0, 3, 2], [1, 2, 3]]))
VOLUME_MM3 = 7 * 5 * 3.25 / 6
RING = Body("ring & <claws>", Role.METAL, MESH)
STONE = Body("centre", Role.STONE, MESH.moved(np.eye(3), np.array([0, 11.2, 0])))
FIELD = Field("wall", "Wall", "mm", RING.name, np.array([0.5, 1.0, np.nan, 2.0]))


def loaded(data: bytes, kind: str) -> Any:
    import trimesh

    return trimesh.load_scene(io.BytesIO(data), file_type=kind)


def test_stl_holds_the_solid_in_mm() -> None:
    data = stl(MESH)
    (found,) = loaded(data, "stl").geometry.values()
    assert found.is_watertight
    assert found.volume == pytest.approx(VOLUME_MM3, rel=1e-6)
    assert len(data) == 84 + 50 * 4
    assert not data.startswith(b"solid"), "some readers take that for a text STL"
    normals = np.frombuffer(data[84:], dtype=[("n", "<f4", 3), ("c", "<f4", 9), ("m", "<u2")])["n"]
    assert np.allclose(normals, found.face_normals, atol=1e-6)


def test_stl_of_a_triangle_without_area_has_no_nan() -> None:
    flat = Mesh(CORNERS, np.array([[0, 0, 1]]))
    assert np.isfinite(np.frombuffer(stl(flat)[84:132], dtype="<f4")).all()


def test_3mf_keeps_names_unit_and_solids() -> None:
    found = loaded(threemf([RING, STONE], "a & b"), "3mf")
    assert found.units == "millimeter"
    assert set(found.geometry) == {RING.name, "centre"}
    for body in (RING, STONE):
        assert np.allclose(
            found.geometry[body.name].bounds, [body.mesh.vertices_mm.min(0), body.mesh.vertices_mm.max(0)]
        )
        assert found.geometry[body.name].volume == pytest.approx(VOLUME_MM3, rel=1e-6)


def test_glb_is_in_metres_with_names_and_colours() -> None:
    found = loaded(glb([RING, STONE], FIELD), "glb")
    assert set(found.geometry) == {RING.name, "centre"}
    ring = found.geometry[RING.name]
    assert ring.volume == pytest.approx(VOLUME_MM3 * 1e-9, rel=1e-5)
    assert np.allclose(ring.bounds[1], [0.007, 0.005, 0.00325], rtol=1e-6)
    assert np.allclose(ring.vertex_attributes["_FIGURE"].ravel()[[0, 1, 3]], [0.5, 1.0, 2.0])
    shown = np.asarray(ring.visual.vertex_attributes["color"])[:, :3]
    assert shown[0].tolist() > shown[3].tolist(), "the thin place is the light one"


@pytest.mark.parametrize(
    "write", [stl, lambda mesh: threemf([Body("a", Role.METAL, mesh)]), lambda mesh: glb([Body("a", Role.METAL, mesh)])]
)
def test_the_same_solid_gives_the_same_bytes(write: Any) -> None:
    assert write(MESH) == write(Mesh(CORNERS.copy(), MESH.faces.copy()))
    assert write(MESH) != write(MESH.scaled(1.001))


def test_3mf_has_no_time_of_its_own() -> None:
    with zipfile.ZipFile(io.BytesIO(threemf([RING]))) as package:
        assert {entry.date_time for entry in package.infolist()} == {(1980, 1, 1, 0, 0, 0)}


def test_colours_tell_bad_from_good_and_unknown() -> None:
    found = colours(FIELD)
    assert found[0].tolist() == list(SCALE[-1])
    assert found[3].tolist() == list(SCALE[0])
    assert found[2].tolist() == list(UNKNOWN)
    other = colours(Field("stress", "Stress", "MPa", "ring", FIELD.values, low_is_bad=False))
    assert other[0].tolist() == list(SCALE[0])
    bound = colours(Field("wall", "Wall", "mm", "ring", FIELD.values, limits=(1.0, 1.5)))
    assert bound[0].tolist() == bound[1].tolist() == list(SCALE[-1])
    assert bound[3].tolist() == list(SCALE[0])
    assert colours(Field("wall", "Wall", "mm", "ring", np.full(2, np.nan))).tolist() == [list(UNKNOWN)] * 2
    assert len(np.unique(colours(Field("wall", "Wall", "mm", "ring", np.ones(3))), axis=0)) == 1


def test_the_scale_rises_evenly_in_lightness() -> None:
    """Told apart in grey, and so by every kind of colour vision: CIE lightness rises by a like amount each step."""
    share = np.array(SCALE) / 255
    linear = np.where(share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4)
    light = 116 * np.cbrt(linear @ [0.2126, 0.7152, 0.0722]) - 16
    steps = np.diff(light)
    assert steps.min() > 0.5 * steps.mean()
    assert steps.max() < 1.5 * steps.mean()
