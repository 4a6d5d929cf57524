"""A voxel file is read back with an XML reader and numpy alone, as its format says."""

from __future__ import annotations

import base64
import json
import struct
import xml.etree.ElementTree as ET
import zlib

import numpy as np
import pytest

from ringwright.papers.voxelfiles import array, compact, label, labels, vti
from ringwright.terms.body import Voxels
from ringwright.terms.mistake import BadInput


def grid(name: str, shape: tuple[int, int, int], seed: int = 0, h_mm: float = 0.4) -> Voxels:
    values = np.random.default_rng(seed).normal(size=shape).astype(np.float32)
    values[0] = np.nan
    return Voxels(name, f"Time to {name} <&>", "s", (-1.5, 2.0, -30.25), h_mm, values)


def read(data: bytes) -> tuple[ET.Element, dict[str, np.ndarray]]:
    root = ET.fromstring(data)
    image = root.find("ImageData")
    assert image is not None
    extent = [int(x) for x in image.attrib["WholeExtent"].split()]
    shape = (extent[1], extent[3], extent[5])
    found = {}
    for part in root.iter("DataArray"):
        text = (part.text or "").strip()
        count = struct.unpack("<I", base64.b64decode(text[:8])[:4])[0]
        size = -(-(4 * (3 + count)) // 3) * 4
        head = struct.unpack(f"<{3 + count}I", base64.b64decode(text[:size])[: 4 * (3 + count)])
        body = base64.b64decode(text[size:])
        out, at = b"", 0
        for n, packed in enumerate(head[3:]):
            block = zlib.decompress(body[at : at + packed])
            want = head[1] if n < count - 1 or head[2] == 0 else head[2]
            assert len(block) == want
            out += block
            at += packed
        assert at == len(body)
        found[part.attrib["Name"]] = np.frombuffer(out, "<f4").reshape(shape, order="F")
    return image, found


@pytest.mark.parametrize("shape", [(3, 4, 5), (40, 31, 53), (32, 32, 16)])
def test_it_reads_back(shape: tuple[int, int, int]) -> None:
    one, two = grid("freeze", shape), grid("fill", shape, 1)
    image, found = read(vti([one, two]))
    assert [float(x) for x in image.attrib["Origin"].split()] == [-1.5, 2.0, -30.25]
    assert [float(x) for x in image.attrib["Spacing"].split()] == [0.4] * 3
    np.testing.assert_array_equal(found["Time to freeze <&>, s"], one.values)
    np.testing.assert_array_equal(found["Time to fill <&>, s"], two.values)


def test_the_same_grids_give_the_same_bytes() -> None:
    assert vti([grid("freeze", (9, 9, 9))]) == vti([grid("freeze", (9, 9, 9))])


@pytest.mark.parametrize(
    ("grids", "says"),
    [
        ([], "no figure"),
        ([grid("freeze", (3, 4, 5)), grid("fill", (3, 4, 6))], "'fill' stands on another grid"),
        ([grid("freeze", (3, 4, 5)), grid("fill", (3, 4, 5), h_mm=0.3)], "'fill' stands on another grid"),
    ],
)
def test_what_is_no_one_grid_is_refused(grids: list[Voxels], says: str) -> None:
    with pytest.raises(BadInput, match=says):
        vti(grids)


@pytest.mark.parametrize("shape", [(3, 4, 5), (40, 31, 53), (32, 32, 16)])
def test_we_read_back_what_we_wrote(shape: tuple[int, int, int]) -> None:
    one, two = grid("freeze", shape), grid('the maker\'s "fill"', shape, 1)
    data = vti([one, two])
    assert labels(data) == (label(one.title, "s"), label(two.title, "s"))
    for given in (one, two):
        found = array(data, label(given.title, given.unit))
        np.testing.assert_array_equal(found.values, given.values)
        assert (found.corner_mm, found.h_mm, found.title, found.unit) == (
            given.corner_mm, given.h_mm, given.title, given.unit,
        )  # fmt: skip


def test_what_is_no_such_file_is_told() -> None:
    for data in (b"", b"<VTKFile>", b"\xff\xfe", vti([grid("freeze", (3, 4, 5))])):
        with pytest.raises(BadInput, match="no figure 'gold, s'"):
            array(data, "gold, s")


def test_the_compact_form_is_the_known_box_in_sixteen_bits() -> None:
    given = grid("freeze", (7, 8, 9))
    given.values[:, 0] = np.nan
    data = compact(given)
    (length,) = struct.unpack("<I", data[:4])
    head = json.loads(data[4 : 4 + length])
    assert head["cells"] == [6, 7, 9] and head["corner_mm"] == pytest.approx([-1.1, 2.4, -30.25])
    counts = np.frombuffer(data[4 + length :], "<u2").reshape(head["cells"], order="F")
    values = head["low"] + (counts.astype(float) - 1) / 65534 * (head["high"] - head["low"])
    np.testing.assert_allclose(values, given.values[1:, 1:], atol=(head["high"] - head["low"]) / 131068 * 1.001)
    given.values[3, 4, 5] = np.nan
    again = np.frombuffer(compact(given)[4 + length :], "<u2").reshape(head["cells"], order="F")
    assert again[2, 3, 5] == 0 and (again == 0).sum() == 1
    given.values[:] = np.nan
    with pytest.raises(BadInput, match="known nowhere"):
        compact(given)
