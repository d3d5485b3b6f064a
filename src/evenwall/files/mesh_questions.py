"""What a mesh leaves open, in a maker's words: repairs, questions with their defaults, an odd size."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from evenwall.errors import InputError
from evenwall.geometry.mended import Choices, Mended
from evenwall.geometry.repair import Repair
from evenwall.geometry.solid import volume as volume_of
from evenwall.units import from_si, to_si

LENGTHS: Final = ("mm", "cm", "m", "in", "ft", "um")
TOLD: Final = 0.002  # share of the volume above which the doubt of filled holes is told
_USUAL: Final = (0.02, 0.8)  # greatest extent of pieces cast on a hand-turned frame [m]
_ANSWERS: Final = {
    "bodies": ("largest", "all"),
    "inner": ("drop", "keep"),
    "crossing": ("unite", "keep"),
    "halves": ("join", "separate"),
    "opening": ("base counts", "trimmed", "pour hole"),
}


@dataclass(frozen=True, kw_only=True)
class Question:
    """Something only the maker can decide; the default is used until it is answered."""

    name: str  # key of the answer
    sentence: str  # what was found
    options: tuple[str, ...]  # possible answers
    default: str  # what is taken without an answer
    answer: str  # what was taken


def choices_of(answers: dict[str, str], refused: frozenset[str]) -> Choices:
    """Choices from answers such as {"bodies": "all", "opening 2": "pour hole"}; raises InputError."""
    openings: dict[int, str] = {}
    plain: dict[str, str] = {}
    for name, answer in answers.items():
        kind, _, number = name.partition(" ")
        if kind not in _ANSWERS or (number and (kind != "opening" or not number.isdigit())):
            raise InputError(f"answer {name!r} is to no question: use one of {', '.join(_ANSWERS)}")
        if answer not in _ANSWERS[kind]:
            raise InputError(f"{name} can't be {answer!r}: use one of {', '.join(_ANSWERS[kind])}")
        if number:
            openings[int(number)] = answer
        else:
            plain[kind] = answer
    return Choices(refused=refused, openings=openings, **plain)  # type: ignore[arg-type]


def questions_of(mended: Mended, choices: Choices) -> tuple[Question, ...]:
    """All questions that the mended mesh raises."""
    found: list[Question] = []

    def ask(name: str, kind: str, sentence: str, answer: str) -> None:
        options = _ANSWERS[kind]
        found.append(
            Question(name=name, sentence=sentence, options=options, default=options[0], answer=answer)
        )

    for number, o in enumerate(mended.openings, start=1):
        ask(
            f"opening {number}",
            "opening",
            f"the piece is open at {place(o.middle)}, {mm(o.span)} wide with a rim of {o.edges} edges "
            f"{mm(o.unevenness)} off flat, closed with {from_si(o.area, 'cm2'):.1f} cm²: "
            "does this base count as wall, is it trimmed off, or is it a pour hole?",
            o.role,
        )
    separate = [b for b in mended.bodies if b.role == "separate"]
    if separate:
        volumes = ", ".join(ml(b.volume) for b in separate[:5]) + (", ..." if len(separate) > 5 else "")
        ask(
            "bodies",
            "bodies",
            f"there are {len(separate) + 1} separate bodies (beside the largest {volumes}): "
            "is only the largest cast, or all?",
            choices.bodies,
        )
    inner = [b for b in mended.bodies if b.role == "inner"]
    if inner:
        ask(
            "inner",
            "inner",
            f"{counted(len(inner), 'bodies or voids')}, {ml(sum(b.volume for b in inner))}, inside the piece "
            "(a mold has no wall there): dropped, or kept?",
            choices.inner,
        )
    c = mended.crossing
    if c is not None and c.between_bodies:
        how = f"cross each other ({c.faces} faces at {place(c.middle)})" if c.faces else "lie on each other"
        ask(
            "crossing",
            "crossing",
            f"bodies {how}, so that their summed volume or area would count a part twice: are they made one?",
            choices.crossing,
        )
    h = mended.halves
    if h is not None:
        ask(
            "halves",
            "halves",
            f"two open parts face each other at {place(h.middle)}, their rims {mm(h.span)} wide and {mm(h.gap)} "
            "apart: are they the halves of one piece, to be joined?",
            choices.halves,
        )
    return tuple(found)


def warnings_of(mended: Mended) -> tuple[str, ...]:
    """What the maker should know before planning on this surface."""
    found: list[str] = []
    if not mended.closed:
        found.append("the surface is not closed, since a repair was refused: its volume is not to be trusted")
    if mended.anew is not None:
        a = mended.anew
        found.append(
            f"the wall was built anew, since {a.why}: detail finer than {mm(a.spacing)} is lost, 95 % of the skin "
            f"lies within {mm(a.lost_p95)} of it, {from_si(a.closed_over, 'cm2'):.3g} cm² close openings"
        )
    volume = abs(volume_of(mended.surface)) if mended.closed else 0.0
    low, high = mended.fill_volume
    if high - low > TOLD * volume > 0.0:
        found.append(
            f"holes were filled flat: the true volume may be {ml(-low)} less to {ml(high)} more, the area up to "
            f"{from_si(mended.fill_area[1], 'cm2'):.3g} cm² more"
        )
    c = mended.crossing
    if c is not None and not c.complete:
        found.append("the skin has too many crossing places to find them all: look at the mesh")
    if c is not None and c.faces and not c.between_bodies:
        found.append(
            f"the skin crosses itself ({c.faces} faces, {mm(c.span)} wide at {place(c.middle)}): "
            "volume and wall are doubtful there, building the wall anew (rebuild) settles it"
        )
    if c is not None and c.between_bodies and not c.united:
        found.append("bodies cross each other and were kept: the volume counts their overlap twice")
    if mended.touching_edges:
        found.append(
            f"parts of the piece only touch along {counted(mended.touching_edges, 'edges')} (of four faces): "
            "a casting would break there"
        )
    return tuple(found)


def size_question(extents: np.ndarray[tuple[int], np.dtype[np.float64]], unit: str | None) -> str | None:
    """A sentence that asks about the unit where the piece would be odd, else None; nothing is changed."""
    greatest = float(extents.max())
    if unit is None or _USUAL[0] <= greatest <= _USUAL[1]:
        return None
    number = greatest / to_si(1.0, unit)
    likely = [u for u in ("mm", "in", "cm", "m") if 0.03 <= to_si(number, u) <= 0.6 and u != unit]
    ask = f"is it in {likely[0]}?" if likely else "is that so?"
    return f"this would be a piece {length(greatest)} at its longest, read in {unit}: {ask}"


def repair_sentence(r: Repair) -> str:
    """One repair in a maker's words."""
    return (
        f"{r.name}: {counted(r.count, r.what)}, area {from_si(r.area_change, 'cm2'):+.2f} cm², volume "
        f"{from_si(r.volume_change, 'mL'):+.2f} mL, at {place(r.middle)} within {mm(r.span)}"
    )


_SINGULAR: Final = {
    "vertices": "vertex", "bodies": "body", "bodies or voids": "body or void", "faces": "face",
    "holes": "hole", "edges": "edge", "parts": "part",
}  # fmt: skip


def counted(count: int, what: str) -> str:
    """A count and its noun, e.g. "1 face", "12 faces"."""
    return f"{count:,} {_SINGULAR.get(what, what) if count == 1 else what}"


def place(point: object) -> str:
    """A position in mm."""
    x, y, z = (from_si(float(v), "mm") for v in np.asarray(point))
    return f"x {x:.1f}, y {y:.1f}, z {z:.1f} mm"


def mm(value: float) -> str:
    """A length in mm."""
    return f"{from_si(value, 'mm'):.3g} mm"


def ml(value: float) -> str:
    """A volume in mL."""
    return f"{from_si(value, 'mL'):.3g} mL"


def length(value: float) -> str:
    """A length in the unit that suits it."""
    return f"{value:.3g} m" if value >= 1.0 else mm(value)
