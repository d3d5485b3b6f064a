"""Results in the job folder: numbers as JSON, arrays as npz, under the fingerprint of their inputs."""

from __future__ import annotations

import hashlib
import io
import json
import zipfile
from collections.abc import Iterator, Mapping
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import Any, Final, TypeVar, get_origin, get_type_hints

import cattrs
import numpy as np

from evenwall import __version__
from evenwall.files.job_file import write_whole

FOLDER: Final = "results"
ARRAY: Final = "array:"  # how the JSON names an array that stands in the npz

T = TypeVar("T")


def fingerprint(*inputs: object) -> str:
    """A hash of all that a result follows from: dataclasses, arrays, numbers, and evenwall's version."""
    digest = hashlib.sha256(__version__.encode())
    for part in inputs:
        for piece in _pieces(part):
            digest.update(piece)
    return digest.hexdigest()[:20]


def _pieces(part: object) -> Iterator[bytes]:
    if isinstance(part, np.ndarray):
        yield f"{part.dtype.str}{part.shape}".encode()
        yield np.ascontiguousarray(part).tobytes()
    elif is_dataclass(part):
        yield type(part).__name__.encode()
        for item in fields(part):
            yield item.name.encode()
            yield from _pieces(getattr(part, item.name))
    elif isinstance(part, dict):
        for key in sorted(part):
            yield repr(key).encode()
            yield from _pieces(part[key])
    elif isinstance(part, tuple | list):
        yield f"({len(part)}".encode()
        for item in part:
            yield from _pieces(item)
    elif isinstance(part, int | float) and not isinstance(part, bool):
        yield repr(float(part)).encode()  # 0 and 0.0 mean the same
    else:
        yield repr(part).encode()


def save_result(folder: Path, name: str, key: str, result: object) -> Path:
    """Write the dataclass `result` as results/`name`.json and .npz under the fingerprint `key`; its path."""
    arrays: dict[str, Any] = {}

    def keep(found: Any) -> Any:
        if isinstance(found, np.generic):
            return found.item()
        arrays[f"a{len(arrays)}"] = found
        return f"{ARRAY}a{len(arrays) - 1}"

    plain = _converter().unstructure(result)
    text = json.dumps({"key": key, "version": __version__, "result": plain}, indent=1, default=keep)
    place = folder / FOLDER
    place.mkdir(exist_ok=True)
    packed = io.BytesIO()
    np.savez_compressed(packed, allow_pickle=False, key=np.array(key), **arrays)
    write_whole(place / f"{name}.npz", packed.getvalue())
    write_whole(place / f"{name}.json", text.encode())
    return place / f"{name}.json"


def load_result(folder: Path, name: str, kind: type[T], *, key: str | None = None) -> T | None:
    """The saved result `name` as a `kind`; None where there is none, it is damaged or not of `key`."""
    place = folder / FOLDER
    try:
        saved = json.loads((place / f"{name}.json").read_text(encoding="utf-8"))
        if key is not None and saved["key"] != key:
            return None
        content = io.BytesIO((place / f"{name}.npz").read_bytes())
        with np.load(content, allow_pickle=False) as packed:
            arrays = {k: packed[k] for k in packed.files}
        if str(arrays["key"]) != saved["key"]:
            return None
        converter = _reader(arrays)
        return converter.structure(saved["result"], kind)
    except (OSError, ValueError, KeyError, TypeError, zipfile.BadZipFile, cattrs.BaseValidationError):
        return None


def _reader(arrays: Mapping[str, Any]) -> cattrs.Converter:
    """A converter that finds the arrays which the JSON names."""
    converter = _converter()
    converter.register_structure_hook_func(_is_array, lambda value, _: arrays[str(value).removeprefix(ARRAY)])

    def rows(value: Any, kind: Any) -> Any:
        kinds = get_type_hints(kind)
        return kind(
            *(converter.structure(part, kinds[name]) for name, part in zip(kinds, value, strict=True))
        )

    converter.register_structure_hook_func(_is_named_tuple, rows)
    return converter


def _is_named_tuple(kind: Any) -> bool:
    return isinstance(kind, type) and issubclass(kind, tuple) and hasattr(kind, "_fields")


def _is_array(kind: Any) -> bool:
    return kind is np.ndarray or get_origin(kind) is np.ndarray


def _converter() -> cattrs.Converter:
    return cattrs.Converter(unstruct_collection_overrides={tuple: list})
