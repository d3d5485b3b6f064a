from __future__ import annotations

import random
from dataclasses import replace

import pytest

from evenwall.bench.casting import BenchPlan, check
from evenwall.bench.events import Event
from evenwall.bench.facts import facts_of
from evenwall.bench.run import moment, moves_at, score_of
from evenwall.errors import PlanError

COAT = 2  # index of the first coat in the plan of conftest


def at_coat(press, **more) -> list[Event]:
    """The events up to the mixing of the first coat, at 1000 s."""
    return [
        press("mixed", 0.0, shot=0),
        press("gelled", 300.0, shot=0),
        press("mixed", 500.0, shot=1),
        press("gelled", 740.0, shot=1),
        press("mixed", 1000.0, shot=COAT),
    ]


def instants(score, events, at):
    return {i.name: (i.at, i.how) for i in moment(score, events, at=at).instants}


def test_one_press_starts_all_times_of_a_shot(plan, press) -> None:
    score, shot = score_of(plan), plan.shots[COAT]
    known = instants(score, at_coat(press), 1010.0)
    assert known["mixed"] == (1000.0, "pressed")
    assert known["pour_by"] == (1000.0 + shot.pour_within, "forecast")
    assert known["poured"] == (1000.0 + shot.pour_at + shot.pour_for, "inferred")
    assert known["closed"] == (known["poured"][0] + shot.close_for, "inferred")
    assert known["wetted"] == (known["closed"][0] + shot.wet_for, "inferred")
    assert known["film"] == (1000.0 + shot.gel_film, "forecast")
    assert "gelled" not in known


def test_stages_follow_each_other(plan, press) -> None:
    score, events = score_of(plan), at_coat(press)
    events.append(press("gelled", 1240.0, shot=COAT))
    seen = []
    for at in range(1000, 4000, 5):
        now = moment(score, events[:-1] if at < 1240 else events, at=float(at))
        if not seen or seen[-1] != now.stage:
            seen.append(now.stage)
    assert seen == ["stir", "pour", "close", "wet", "turn", "prop", "rest", "ready", "over"]


def test_the_cup_gels_early_and_all_that_follows_comes_early(plan, press) -> None:
    score, shot = score_of(plan), plan.shots[COAT]
    events = [*at_coat(press), press("gelled", 1000.0 + shot.gel_cup / 2, shot=COAT)]
    now = moment(score, events, at=1000.0 + shot.gel_cup / 2)
    known = {i.name: i.at for i in now.instants}
    assert known["film"] == pytest.approx(1000.0 + shot.gel_film / 2)
    assert known["mix_from"] == pytest.approx(1000.0 + shot.next_from / 2 - plan.shots[3].pour_at)
    assert now.say == "behind"
    assert now.lag == pytest.approx((shot.gel_film - shot.gel_cup) / 2)


def test_a_film_ahead_of_the_cup_is_said_to_be_ahead(plan, press) -> None:
    thin_rest = replace(plan.shots[COAT], gel_cup=600.0)
    score = score_of(replace(plan, shots=(*plan.shots[:COAT], thin_rest, plan.shots[3])))
    events = [*at_coat(press), press("gelled", 1600.0, shot=COAT)]
    now = moment(score, events, at=1600.0)
    assert now.say == "ahead"
    assert now.lag is not None
    assert now.lag < 0
    assert now.stage != "turn", "the film stood before the cup: turning was over"


def test_nobody_is_told_to_stop_before_the_cup_has_gelled(plan, press) -> None:
    """Common practice, no source: stop turning when it no longer moves in the cup; turning longer does no harm."""
    score, events = score_of(plan), at_coat(press)
    for at in range(1100, 5000, 20):
        assert moment(score, events, at=float(at)).stage in ("wet", "turn")
    assert moment(score, events, at=1300.0).say == "cup_late"
    assert moment(score, events, at=5000.0).press is not None


def test_the_stop_is_called_before_the_next_coat_is(plan, press) -> None:
    """However early the next coat could be poured: the mold comes to rest, is propped and opened first."""
    soon = replace(plan.shots[COAT], next_from=plan.shots[COAT].turn_until)
    score = score_of(replace(plan, shots=(*plan.shots[:COAT], soon, plan.shots[3])))
    events = [*at_coat(press), press("gelled", 1240.0, shot=COAT)]
    said = []
    for at in range(1300, 2200):
        say = moment(score, events, at=float(at)).say
        said += [say] if not said or said[-1] != say else []
    assert said == ["behind", "stop", "prop", "next_soon", "rest", "next_coat"]
    known = {i.name: i.at for i in moment(score, events, at=1300.0).instants}
    assert known["mix_from"] >= known["stop"] + score.plan.open_for


def test_a_bump_while_stirring_or_turning_enters_nothing(plan, press) -> None:
    score, events = score_of(plan), at_coat(press)
    assert moment(score, events, at=1005.0).press is None
    waiting = moment(score, events, at=1200.0).press
    assert waiting is not None
    assert waiting.kind == "gelled"
    events.append(press("gelled", 1240.0, shot=COAT))
    assert moment(score, events, at=1245.0).press is None


def test_poured_late_moves_what_hands_do_after_it(plan, press) -> None:
    score, shot = score_of(plan), plan.shots[COAT]
    events = [*at_coat(press), press("poured", 1085.0, shot=COAT)]
    known = instants(score, events, 1090.0)
    assert known["poured"] == (1085.0, "pressed")
    assert known["closed"] == (1085.0 + shot.close_for, "inferred")
    assert "not_poured" not in known, "it is in: nobody needs to be told not to pour"


def test_a_spoilt_mix_is_mixed_again(plan, press) -> None:
    score = score_of(plan)
    events = [*at_coat(press), press("spoilt", 1100.0, shot=COAT)]
    now = moment(score, events, at=1110.0)
    assert now.step == f"mix.{COAT}"
    again = press("mixed", 1200.0, shot=COAT, attempt=1)
    now = moment(score, [*events, again], at=1201.0)
    assert (now.shot, now.attempt, now.stage) == (COAT, 1, "stir")


def test_a_passing_call_gives_way_to_the_stage(plan, press) -> None:
    soon = replace(plan.shots[COAT], pour_within=75.0)
    score = score_of(replace(plan, shots=(*plan.shots[:COAT], soon, plan.shots[3])))
    events = at_coat(press)
    due = instants(score, events, 1080.0)["not_poured"][0]
    assert moment(score, events, at=due + 1.0).say == "too_late"
    assert moment(score, events, at=due + 9.0).say == "close", "the stage was never left"


def test_undo_and_mend(plan, press) -> None:
    score, events = score_of(plan), at_coat(press)
    wrong = press("gelled", 1150.0, shot=COAT)
    assert "gelled" in instants(score, [*events, wrong], 1160.0)
    undone = [*events, wrong, press("undo", 1160.0, target=wrong.id)]
    assert "gelled" not in instants(score, undone, 1165.0)
    mended = [*events, wrong, press("mend", 1130.0, target=wrong.id, stamped=1160.0)]
    assert instants(score, mended, 1165.0)["gelled"] == (1130.0, "mended")
    twice = [*mended, press("mend", 1140.0, target=wrong.id, stamped=1170.0)]
    assert instants(score, twice, 1175.0)["gelled"] == (1140.0, "mended")
    taken_back = [*twice, press("undo", 1180.0, target=twice[-1].id)]
    assert instants(score, taken_back, 1185.0)["gelled"] == (1130.0, "mended")


def test_order_and_repetition_of_arrival_mean_nothing(plan, press) -> None:
    score, events = score_of(plan), at_coat(press)
    slip = press("poured", 1088.0, shot=COAT)
    events += [slip, press("undo", 1090.0, target=slip.id), press("poured", 1070.0, shot=COAT)]
    events += [
        press("reading", 10.0, item="room", value=290.0),
        press("reading", 20.0, item="room", value=288.0),
    ]
    chance = random.Random(3)
    for _ in range(20):
        shuffled = [*events, *chance.sample(events, 4)]
        chance.shuffle(shuffled)
        assert moment(score, shuffled, at=1100.0) == moment(score, events, at=1100.0)
        assert facts_of(shuffled, shots=4) == facts_of(events, shots=4)


def test_two_devices_press_for_the_same_gel_and_the_first_counts(plan, press) -> None:
    score, events = score_of(plan), at_coat(press)
    both = [
        press("gelled", 1242.0, shot=COAT, device="phone"),
        press("gelled", 1240.0, shot=COAT, device="desk"),
    ]
    assert instants(score, [*events, *both], 1250.0)["gelled"] == (1240.0, "pressed")


def test_facts_say_what_the_events_say(plan, press) -> None:
    events = at_coat(press)
    events += [
        press("dry", at, item=item) for at, item in ((10.0, "start"), (43.0, "closed"), (60.0, "turned"))
    ]
    events += [press("gelled", 1250.0, shot=COAT), press("amount", 1260.0, shot=COAT, value=0.09)]
    facts = facts_of(events, shots=4)
    assert facts.close_for == 33.0
    assert facts.shots[COAT].mixed_at == 1000.0
    assert facts.shots[COAT].gel_cup == 250.0
    assert facts.shots[COAT].mass == 0.09
    assert facts.shots[3].mixed_at is None


def test_a_dry_run_done_again_replaces_the_first(press) -> None:
    first = [press("dry", at, item=item) for at, item in ((10.0, "start"), (43.0, "closed"))]
    again = [press("dry", at, item=item, attempt=1) for at, item in ((60.0, "start"), (80.0, "closed"))]
    assert facts_of([*first, *again[:1]], shots=1).close_for == 33.0, "the second is not closed yet"
    assert facts_of([*first, *again], shots=1).close_for == 20.0


def test_a_whole_casting_by_nothing_but_presses(plan: BenchPlan, press) -> None:
    """Whatever the bench offers is pressed, time goes on where it offers nothing: the casting comes to its end."""
    score, events, at = score_of(plan), [], 0.0
    while at < 5 * 3600:
        now = moment(score, events, at=at)
        if not now.step and now.press is None:
            break
        due = {i.name: i.at for i in now.instants}
        offered = now.press
        if offered and (offered.kind != "gelled" or at >= due["expected"]):
            events.append(
                press(offered.kind, at, shot=offered.shot, attempt=offered.attempt, item=offered.item)
            )
        at += 4.0
    assert now.step == ""
    presses = [(e.kind, e.shot) for e in events if e.kind in ("mixed", "gelled")]
    assert presses == [(kind, shot) for shot in range(4) for kind in ("mixed", "gelled")]
    boxes = {item.key for step in score.steps if step.kind == "ticks" for item in step.items}
    assert boxes == {e.item for e in events if e.kind == "tick"}


def test_moves_begin_again_and_cover_both_axes(plan) -> None:
    moves = plan.shots[COAT].moves
    assert {moves[n].axis for n in moves_at(moves, 3.0)} == {"frame", "cradle"}
    assert moves_at(moves, 3.0) == moves_at(moves, 17.0)
    assert moves_at(moves, -1.0) == ()
    assert moves_at((), 5.0) == ()


def test_a_plan_whose_times_run_backwards_is_refused(plan) -> None:
    check(plan)
    bad = replace(plan, shots=(replace(plan.shots[0], pour_last=20.0),))
    with pytest.raises(
        PlanError, match=r"shot 1 \(brush coat\): pour_last at 20 s is before pour_at at 50 s"
    ):
        check(bad)
    endless = replace(plan, shots=(replace(plan.shots[0], gel_film=float("inf")),))
    with pytest.raises(PlanError, match="finite"):
        check(endless)
