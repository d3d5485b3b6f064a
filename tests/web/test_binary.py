"""Blocks of arrays for the browser come back as they went."""

from __future__ import annotations

import json
import struct

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from evenwall.web.binary import pack, unpack


@given(st.lists(st.integers(0, 255), max_size=9), st.lists(st.floats(width=32, allow_nan=False), max_size=9))
def test_arrays_come_back_and_lie_at_multiples_of_four(small: list[int], floats: list[float]) -> None:
    sent = {
        "small": np.array(small, dtype=np.uint8),
        "floats": np.array(floats),
        "whole": np.arange(6).reshape(2, 3),
    }
    block = pack(sent, {"name": "Ammonit 菊石"})
    arrays, meta = unpack(block)
    (length,) = struct.unpack_from("<I", block, 4)
    header = json.loads(block[8 : 8 + length])
    assert all((8 + length + place["at"]) % 4 == 0 for place in header["arrays"].values())
    assert meta == {"name": "Ammonit 菊石"}
    for name, array in sent.items():
        np.testing.assert_array_equal(arrays[name], array)


def test_not_a_number_never_reaches_the_browser_as_json() -> None:
    with pytest.raises(ValueError, match="JSON"):
        pack({}, {"top": float("nan")})


def test_other_bytes_are_refused() -> None:
    with pytest.raises(ValueError, match="EWB1"):
        unpack(b"solid stl")
