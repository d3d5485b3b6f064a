"""The bench's own key: it outlives a restart of the app, so that a bench page that is open goes on by itself.

It opens the bench and nothing else; the app's token, new at every start, opens the rest.
"""

from __future__ import annotations

import os
import secrets
import sys
from pathlib import Path
from typing import Final

from evenwall.errors import InputError
from evenwall.web.guard import Pass

NAME: Final = "bench.key"
LASTS: Final = 30 * 86_400  # a browser keeps it so long after its last visit [s]
SHORTEST: Final = 32  # characters; a file with fewer was cut off
PLACES: Final = ("/bench/casting/", "/bench/api/castings/", "/bench/api/words/", "/parts/bench/")


def bench_pass(folder: Path, *, port: int) -> Pass:
    """The key of the bench pages of the app at `port`, kept in `folder`; InputError where that can't be written."""
    return Pass(key=kept_key(folder), cookie=f"evenwall-bench-{port}", lasts=LASTS, opens=is_bench)


def is_bench(path: str) -> bool:
    """Whether an address is the bench's: its pages, presses, words and scripts, not the door for phones."""
    return ".." not in path and (path == "/bench" or path.startswith(PLACES))


def kept_key(folder: Path) -> str:
    """The key in `folder`, readable by its owner only; made where there is none, or where others could read it."""
    file = folder / NAME
    try:
        shared = sys.platform != "win32" and file.stat().st_mode & 0o077
        key = file.read_text(encoding="ascii")
        if len(key) >= SHORTEST and not shared:
            return key
    except (FileNotFoundError, UnicodeDecodeError):
        pass
    except OSError as error:
        raise InputError(f"{file} can't be read ({error.strerror}): make it yours or delete it") from None
    return _make(file)


def _make(file: Path) -> str:
    key = secrets.token_urlsafe(SHORTEST)
    part = file.with_suffix(f".{os.getpid()}")
    try:
        file.parent.mkdir(parents=True, exist_ok=True)
        with os.fdopen(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_TRUNC, 0o600), "w") as writing:
            writing.write(key)
        part.replace(file)
    except OSError as error:
        raise InputError(f"{file} can't be written ({error.strerror}): make its folder yours") from None
    return key
