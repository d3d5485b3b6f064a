"""What the bench says, language by language: text files in `languages/`, one a language, all with the same keys."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping
from functools import cache
from importlib.resources import files
from typing import Any

from evenwall.errors import InputError

FOLDER = files("evenwall.bench") / "languages"


@cache
def languages() -> tuple[str, ...]:
    """Codes of the languages that there are, English first."""
    found = sorted(
        entry.name.removesuffix(".toml") for entry in FOLDER.iterdir() if entry.name.endswith(".toml")
    )
    return ("en", *(code for code in found if code != "en"))


@cache
def words_of(language: str) -> Mapping[str, Any]:
    """All words of a language by section and key; raises InputError for one that isn't there."""
    if language not in languages():
        raise InputError(f"language {language!r} is not there: use one of {', '.join(languages())}")
    return tomllib.loads((FOLDER / f"{language}.toml").read_text(encoding="utf-8"))


def keys_of(words: Mapping[str, Any], *, under: str = "") -> Iterator[str]:
    """Dotted keys of all texts in `words`, for comparing languages."""
    for key, value in words.items():
        if isinstance(value, Mapping):
            yield from keys_of(value, under=f"{under}{key}.")
        else:
            yield f"{under}{key}"
