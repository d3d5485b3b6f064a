"""Readers fed with damaged bytes: a mesh or one sentence, never another error."""

from __future__ import annotations

import tempfile
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from mesh_writers import CUBES, threemf

from evenwall.errors import EvenwallError
from evenwall.files.mesh_file import read_mesh

ENDINGS = ("stl", "obj", "ply", "3mf", "glb", "stl.gz", "3mf.gz")
WORDS = (
    b"solid", b"facet", b"endsolid", b"nan", b"-1", b"1e308", b"\xff", b"\0", b"f 1 2 3 4 5\n", b"v 1 2\n", b"9" * 30,
    b"list", b"element", b"-0", b"_", b'"count":-1', b'"byteOffset":1e9', b"[]", b"null", b"\\\n", b"/", b" ",
)  # fmt: skip


def read(data: bytes, name: str) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / name
        path.write_bytes(data)
        try:
            read_mesh(path, unit="mm")
        except EvenwallError as error:
            assert "\n" not in str(error)


def damage(draw: st.DrawFn, data: bytes) -> bytes:
    for _ in range(draw(st.integers(1, 4))):
        start = draw(st.integers(0, len(data)))
        end = min(len(data), start + draw(st.integers(0, 40)))
        match draw(st.sampled_from(["drop", "words", "bytes", "copy", "cut"])):
            case "drop":
                data = data[:start] + data[end:]
            case "words":
                data = data[:start] + draw(st.sampled_from(WORDS)) + data[end:]
            case "bytes":
                data = data[:start] + draw(st.binary(max_size=8)) + data[end:]
            case "copy":
                data = data[:end] + data[start:]
            case _:
                data = data[:end]
    return data


@st.composite
def damaged(draw: st.DrawFn, name: str) -> bytes:
    return damage(draw, CUBES[name])


@pytest.mark.parametrize("name", CUBES)
def test_damaged_files_give_a_mesh_or_a_sentence(name: str) -> None:
    @settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])
    @given(damaged(name))
    def check(data: bytes) -> None:
        read(data, name)

    check()


@settings(max_examples=100, deadline=None)
@given(st.binary(max_size=300), st.sampled_from(ENDINGS))
def test_any_bytes_give_a_sentence(data: bytes, ending: str) -> None:
    read(data, f"any.{ending}")


XML = st.recursive(
    st.sampled_from(
        ['<vertex x="1" y="2" z="3"/>', '<vertex x="1"/>', '<triangle v1="0" v2="1" v3="9"/>', "&amp;", "x",
         '<component objectid="1"/>', '<item objectid="1" transform="1 2"/>', '<item objectid="7"/>', "<mesh/>"]
    ),
    lambda inner: st.builds(
        lambda tag, parts: f'<{tag} id="1" unit="inch">{"".join(parts)}</{tag}>',
        st.sampled_from(["model", "object", "mesh", "vertices", "triangles", "build", "components"]),
        st.lists(inner, max_size=5),
    ),
    max_leaves=25,
)  # fmt: skip


@settings(max_examples=60, deadline=None)
@given(XML)
def test_odd_3mf_models_give_a_sentence(text: str) -> None:
    read(threemf(f"<model>{text}</model>"), "odd.3mf")
