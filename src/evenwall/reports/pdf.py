"""PDF pages by typst: a template of ours, plain data and pictures in; bytes or a whole file out."""

from __future__ import annotations

import json
import os
import tempfile
from collections.abc import Mapping
from importlib import resources
from pathlib import Path
from typing import Any

import matplotlib as mpl
import typst

from evenwall.errors import JobError


def pdf(template: str, data: Mapping[str, Any], pictures: Mapping[str, bytes]) -> bytes:
    """The template (a file beside this one) filled with data; pictures by the names that the template uses.

    Texts are set as they are, whatever signs they hold. Letters come from the fonts that matplotlib and typst
    bring along, those of other scripts from the system where it has them.
    """
    with tempfile.TemporaryDirectory() as room:
        files = {template: resources.files("evenwall.reports").joinpath(template).read_bytes(), **pictures}
        for name, content in files.items():
            Path(room, name).write_bytes(content)
        made = typst.compile(
            str(Path(room, template)),
            root=room,
            sys_inputs={"data": json.dumps(data, ensure_ascii=False, allow_nan=False)},
            font_paths=[str(Path(mpl.get_data_path(), "fonts", "ttf"))],
        )
    return bytes(made)


def write_pdf(path: Path, content: bytes) -> Path:
    """Put the whole file in its place at once, so that a reader never meets half of it."""
    try:
        handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.stem}-", suffix=".pdf")
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(content)
            os.chmod(name, 0o644)
            os.replace(name, path)
        except OSError:
            Path(name).unlink(missing_ok=True)
            raise
    except OSError as fault:
        raise JobError(
            f"{path} can't be written ({fault.strerror}): close it where it is open, or free the folder"
        ) from None
    return path
