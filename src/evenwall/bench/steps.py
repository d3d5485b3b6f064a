"""The steps of a whole casting, from the first check to the weighed casting, each with its boxes and cautions."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from evenwall.bench.casting import BenchPlan, ShotPlan
from evenwall.bench.events import DRY_PHASES


@dataclass(frozen=True, kw_only=True)
class Item:
    """A box to tick, perhaps with a number to read off."""

    key: str  # unique in the casting
    say: str  # key of the words
    numbers: Mapping[str, float | str] = field(default_factory=dict)
    reading: Literal["", "mass", "temperature", "share"] = ""  # what number belongs to it
    item: str = ""  # the reading's name in the ledger
    wanted: float | None = None  # planned reading [SI]


@dataclass(frozen=True, kw_only=True)
class Step:
    """One step: boxes to tick, a dry run, or the mixing of a shot."""

    key: str
    kind: Literal["ticks", "dry", "mix"]
    say: str  # key of the title's words
    items: tuple[Item, ...] = ()
    cautions: tuple[str, ...] = ()  # keys of words
    shot: int | None = None


def steps_of(plan: BenchPlan) -> tuple[Step, ...]:
    """The steps of the casting `plan`."""
    steps = [_safety(), _conditions(plan), _mold(plan), _weighing(plan), _dry(), _ready()]
    for place, shot in enumerate(plan.shots):
        steps.append(
            Step(key=f"mix.{place}", kind="mix", say=f"mix_{shot.kind}", shot=place, cautions=_mixing(shot))
        )
        steps += _between(plan, place)
    return (*steps, _opening(), _after(plan))


def _safety() -> Step:
    keys = ("sheet_read", "air", "gloves", "eyes_on", "sleeves", "phone_bag")
    return _ticks("safety", keys, cautions=("isocyanate", "data_sheet", "sensitive"))


def _conditions(plan: BenchPlan) -> Step:
    items = (
        Item(key="room", say="room", reading="temperature", item="room", wanted=plan.room),
        Item(key="mold", say="mold_temperature", reading="temperature", item="mold", wanted=plan.mold),
        Item(key="humidity", say="humidity", reading="share", item="humidity"),
        Item(key="dry_things", say="dry_things"),
    )
    return Step(key="conditions", kind="ticks", say="conditions", items=items, cautions=("humid",))


def _mold(plan: BenchPlan) -> Step:
    keys = ["clean", "faces", "release", "seated", "bands", "clear"]
    if plan.board_off:
        keys.insert(3, "board_release")
    return _ticks("mold_check", tuple(keys), cautions=("solvent", "clamps", "tipping"))


def _weighing(plan: BenchPlan) -> Step:
    items = []
    if plan.batch_b > 0:
        batch: dict[str, float | str] = {"b_kg": plan.batch_b, "pigment_kg": plan.batch_pigment}
        items.append(Item(key="weigh.tint", say="tint_batch", numbers=batch))
    for place, shot in enumerate(plan.shots):
        say_b = "weigh_b_tinted" if shot.mass_pigment > 0 else "weigh_b"
        for part, say, mass in (("a", "weigh_a", shot.mass_a), ("b", say_b, shot.mass_b_weighed)):
            items.append(
                Item(
                    key=f"weigh.{place}.{part}",
                    say=say,
                    numbers={"shot": place, "mass_kg": mass},
                    reading="mass",
                    item=f"mass.{place}.{part}",
                    wanted=mass,
                )
            )
        if shot.mass_filler > 0:
            filler: dict[str, float | str] = {"shot": place, "mass_kg": shot.mass_filler}
            items.append(Item(key=f"weigh.{place}.filler", say="weigh_filler", numbers=filler))
    items.append(Item(key="weigh.witness", say="witness_cup"))
    items.append(Item(key="weigh.labels", say="labels"))
    return Step(key="weigh", kind="ticks", say="weigh", items=tuple(items), cautions=("apart", "paler"))


def _dry() -> Step:
    items = tuple(Item(key=f"dry.{phase}", say=f"dry_{phase}") for phase in DRY_PHASES)
    return Step(key="dry", kind="dry", say="dry", items=items, cautions=("pinch",))


def _ready() -> Step:
    return _ticks("ready", ("second_cup_ready", "sound_heard", "path_free"), cautions=("heat_air",))


def _mixing(shot: ShotPlan) -> tuple[str, ...]:
    own = ("isocyanate",) if shot.kind == "brush" else ("isocyanate", "jet")
    return (*own, *shot.cautions)


def _between(plan: BenchPlan, place: int) -> list[Step]:
    """What hands do after the shot `place` while it stands, before the next one."""
    shot, last = plan.shots[place], place == len(plan.shots) - 1
    if shot.kind == "brush":
        return [
            _ticks(
                "wiped", ("faces_wiped", "reseated", "brush_clean", "mounted"), place, ("solvent", "clamps")
            )
        ]
    keys = ["cup_aside", "looked"] if not last else ["cup_aside"]
    if shot.kind == "cleaning":
        keys += ["taken_out", "lit", "cleaned"]
    elif plan.board_off and not last:
        keys += ["board_lifted", "trimmed", "board_back"]
    return [_ticks("between", tuple(keys), place, ("hot_cup",))]


def _opening() -> Step:
    return _ticks("opening", ("waited", "opened", "no_warp"), cautions=("open_heat", "clamps"))


def _after(plan: BenchPlan) -> Step:
    solid = sum(shot.mass for shot in plan.shots if shot.kind != "cleaning")
    items = (
        Item(key="after.mass", say="weigh_casting", reading="mass", item="mass.casting", wanted=solid),
        Item(key="after.dust", say="trim_dust"),
        Item(key="after.waste", say="waste"),
    )
    return Step(key="after", kind="ticks", say="after", items=items, cautions=("dust",))


def _ticks(
    key: str, items: tuple[str, ...], place: int | None = None, cautions: tuple[str, ...] = ()
) -> Step:
    own = key if place is None else f"{key}.{place}"
    boxes = tuple(Item(key=f"{own}.{item}", say=item) for item in items)
    return Step(key=own, kind="ticks", say=key, items=boxes, cautions=cautions, shot=place)
