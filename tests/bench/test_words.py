from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any, get_args

import pytest

from evenwall.bench.casting import Pose
from evenwall.bench.run import How, Press, score_of
from evenwall.bench.words import keys_of, languages, words_of
from evenwall.errors import InputError


def test_all_languages_have_the_same_keys_and_numbers() -> None:
    english = words_of("en")
    assert len(languages()) >= 2
    for language in languages():
        words = words_of(language)
        assert set(keys_of(words)) == set(keys_of(english)), language
        for section in ("say", "box", "note", "shot", "press", "page"):
            for key, said in words[section].items():
                assert braces(said) == braces(english[section][key]), f"{language}: {section}.{key}"


def braces(said: str | dict[str, str]) -> set[str]:
    text = said if isinstance(said, str) else said["big"] + said["text"]
    return set(re.findall(r"{(\w+)}", text))


def test_no_english_is_left_in_another_language() -> None:
    english = dict(texts_of(words_of("en")))
    telling = {"the", "and", "is", "it", "of", "to", "be", "not", "your", "with", "has", "from", "until"}
    for language in languages()[1:]:
        for key, text in texts_of(words_of(language)):
            words = set(re.findall(r"[a-zäöüß]+", re.sub(r"{\w+}", "", text.lower())))
            assert not words & telling, f"{language}: {key}: {text}"
            if len(english[key].split()) > 1:
                assert text != english[key], f"{language}: {key} is the English text"


def texts_of(words: Mapping[str, Any], under: str = "") -> Iterator[tuple[str, str]]:
    for key, value in words.items():
        if isinstance(value, Mapping):
            yield from texts_of(value, f"{under}{key}.")
        else:
            yield f"{under}{key}", value if isinstance(value, str) else " ".join(value)


def test_everything_that_can_be_said_has_words(plan) -> None:
    score = score_of(replace(plan, shots=tuple(replace(s, pose=Pose(up="x")) for s in plan.shots)))
    words = words_of("en")
    for cue in (cue for cues in score.cues for cue in cues):
        assert cue.say in words["say"]
        known = {*cue.numbers, "until_s", "until_at", "mix_from_at", "mix_to_at", "sure_at"}
        assert braces(words["say"][cue.say]) <= known, cue.say
    for step in score.steps:
        assert step.say in words["step"]
        assert set(step.cautions) <= set(words["caution"])
        for item in step.items:
            assert item.say in words["box"]
            assert braces(words["box"][item.say]) == set(item.numbers)
    for kind in get_args(Press.__dataclass_fields__["kind"].type) or ("mixed", "gelled", "tick", "dry"):
        assert kind in words["press"]
    assert set(get_args(How)) == set(words["how"])


@pytest.mark.parametrize("language", languages())
def test_big_words_are_short_enough_for_two_metres(language: str) -> None:
    """At 390 px (about 65 mm) seven letters of 0.6 em fill the width at letters 9.3 mm high.

    16 minutes of arc at 2 m, the least that ISO 9241-303 allows (from memory); the page is measured in
    tests/browser.
    """
    for key, said in words_of(language)["say"].items():
        assert max(len(word) for word in said["big"].split()) <= 7, key


def test_an_unknown_language_is_refused() -> None:
    with pytest.raises(InputError, match="use one of en"):
        words_of("xx")
