"""Readings out of ratio hold the weighing up until they are mended or used knowingly."""

from __future__ import annotations

import pytest

from evenwall.bench.run import moment, score_of

COAT = 2


def weighed(press, score, a: float, b: float) -> list:
    """Everything ticked up to the weighing, and all of it ticked too; the first coat's readings are a and b."""
    before = [step for step in score.steps if step.key in ("safety", "conditions", "mold_check", "weigh")]
    events = [
        press("tick", float(n), item=item.key) for n, item in enumerate(i for s in before for i in s.items)
    ]
    at = float(len(events))
    return [
        *events,
        press("reading", at, item=f"mass.{COAT}.a", value=a),
        press("reading", at + 1.0, item=f"mass.{COAT}.b", value=b),
    ]


def after(step: str, score) -> str:
    return score.steps[[one.key for one in score.steps].index(step) + 1].key


def test_within_the_tolerance_of_the_sheet_nothing_is_asked(plan, press) -> None:
    score, shot = score_of(plan), plan.shots[COAT]
    for share in (1.0, 1.0 + 0.9 * plan.ratio_tolerance, 1.0 - 0.9 * plan.ratio_tolerance):
        events = weighed(press, score, shot.mass_a, share * shot.mass_b_weighed)
        now = moment(score, events, at=1000.0)
        assert now.doubt is None
        assert now.step == after("weigh", score)


@pytest.mark.parametrize("share", [1.06, 0.94])
def test_out_of_ratio_says_what_brings_it_back(plan, press, share: float) -> None:
    score, shot = score_of(plan), plan.shots[COAT]
    a, b = shot.mass_a, share * shot.mass_b_weighed
    events = weighed(press, score, a, b)
    now = moment(score, events, at=1000.0)
    assert now.step == "weigh"
    assert now.press is None, "a press of the pedal does not pass it by"
    doubt = now.doubt
    assert doubt is not None
    assert (doubt.shot, doubt.more) == (COAT, "b" if share > 1 else "a")
    assert doubt.off_share == pytest.approx(share - 1.0)
    added = (a + doubt.mass_kg, b) if share > 1 else (a, b + doubt.mass_kg)
    assert added[1] / added[0] == pytest.approx(shot.mass_b_weighed / shot.mass_a)
    mended = [
        press("reading", 900.0, item=f"mass.{COAT}.{part}", value=value)
        for part, value in zip("ab", added, strict=True)
    ]
    assert moment(score, [*events, *mended], at=1000.0).step == after("weigh", score)


def test_used_anyway_counts_for_those_readings_only(plan, press) -> None:
    score, shot = score_of(plan), plan.shots[COAT]
    events = weighed(press, score, shot.mass_a, 1.1 * shot.mass_b_weighed)
    events.append(press("tick", 900.0, item=f"ratio.{COAT}"))
    assert moment(score, events, at=1000.0).step == after("weigh", score)
    events.append(press("reading", 950.0, item=f"mass.{COAT}.b", value=1.2 * shot.mass_b_weighed))
    assert moment(score, events, at=1000.0).doubt is not None, "weighed anew, asked anew"
