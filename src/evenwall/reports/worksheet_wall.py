"""Second page of the worksheet, as texts and one picture: the wall that comes out, what it costs, what is assumed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from functools import partial
from typing import Any, Final

import numpy as np

from evenwall.film.findings import averaging, local_means
from evenwall.film.operators import inward_normals
from evenwall.film.state import FilmForecast, Finding
from evenwall.job import Job, Plan
from evenwall.plan.costs import Cost
from evenwall.plan.sureness import called, look_up_sentence
from evenwall.reports.pictures import Mark, wall_map
from evenwall.reports.summary import capital, finding_size, left_open, length, mass, temperature

LETTERS: Final = "KLMNPQRSTUVWXYZ"  # not A and B, which are the resin's parts
MOST: Final = 9  # places listed
COARSE: Final = ", the first stretch, which the film forgets, on a coarser mesh"
WORDS: Final = {
    "thin": "thin",
    "dry": "dry",
    "pool": "pool",
    "lump": "pool that gels in a lump",
    "sag": "sags after the turning stops",
    "hot": "hot",
    "cut off": "closed off and hollow",
    "air": "pushed open by warm air",
    "spun": "thrown by the turning",
}


def wall_page(job: Job, plan: Plan, *, us: bool) -> tuple[dict[str, Any], bytes]:
    """What the template's second page shows, and its picture (PNG)."""
    film = plan.forecast
    places, marks = _places(film, us)
    picture = wall_map(film.wall, film.total, wanted=job.wish.usual, unit="in" if us else "mm", marks=marks)
    page = {
        "places": places,
        "figures": _figures(film, us),
        "coats": _coats(film, us),
        "forecast": f"Computed on {film.nodes} nodes{COARSE if film.history == 'coarse start' else ''}.",
        "takes": list(film.assumptions),
        "assumed": grouped(plan.assumed),
        "cost": _cost(plan.cost),
        "reasons": list(plan.reasons),
        "hand": hand_words(plan, us=us),
        "hangs": hangs_words(plan),
    }
    return page, picture


def hand_words(plan: Plan, *, us: bool) -> str:
    """The piece's weight, and what a thumb does to its thinnest place."""
    thumb = plan.hand.thumb
    taken = f" ({' and '.join(thumb.assumed)} typical)" if thumb.assumed else ""
    return f"It weighs {mass(plan.hand.weight, us=us)}; {thumb.verdict}{taken}."


def hangs_words(plan: Plan) -> str:
    """What the film's gel hangs on most, and what to look up."""
    sure = plan.sure
    most = ", ".join(f"{called(row.name)} ±{row.size / 60:.1f} min" for row in sure.hangs_on[:4])
    wanted = f" {capital(look_up_sentence(sure.look_up))}." if sure.look_up is not None else ""
    return f"The film's gel hangs on: {most}.{wanted}"


def grouped(assumed: Sequence[str]) -> list[list[str]]:
    """Values of the form "name: source", those of one source together: source and names."""
    found: dict[str, list[str]] = {}
    for one in assumed:
        name, _, source = one.partition(": ")
        found.setdefault(source, []).append(name)
    return [[source, ", ".join(names)] for source, names in found.items()]


def _places(film: FilmForecast, us: bool) -> tuple[list[dict[str, str]], list[Mark]]:
    patches = averaging(film.wall.vertices, inward_normals(film.wall), film.kept_area)
    local = local_means(film.total, film.kept_area, patches)
    thin = film.findings
    ends = [("thickest place", int(np.nanargmax(local)))]
    if not thin:  # else the thin places hold it
        ends.insert(0, ("thinnest place", int(np.nanargmin(local))))
    rows: list[tuple[str, str, Any]] = [
        (word, length(float(local[node]), us=us), film.wall.vertices[node]) for word, node in ends
    ]
    most = MOST - len(rows)
    found = [("", one) for one in thin]
    for number, coat in enumerate(film.coats, 1):
        found += [(f"coat {number}: ", one) for one in coat.findings if one.kind in WORDS]
    for prefix, one in found[:most]:
        size = finding_size(one, us=us)
        rows.append((prefix + WORDS[one.kind], size, one.at))
    places, marks = [], []
    for letter, (what, size, at) in zip(LETTERS, rows, strict=False):
        x, y, z = (float(value) for value in at)
        places.append({"letter": letter, "what": what, "size": size})
        marks.append(Mark(letter=letter, at=(x, y, z)))
    if len(found) > most:
        places.append({"letter": "", "what": _more(found[most:]), "size": ""})
    return places, marks


def _more(found: list[tuple[str, Finding]]) -> str:
    counted = Counter(WORDS[one.kind] for _, one in found)
    return "and smaller ones: " + ", ".join(f"{count} {word}" for word, count in counted.items())


def _figures(film: FilmForecast, us: bool) -> list[list[str]]:
    f, u = film.figures, film.uncertainty
    rows = (
        ("mean", f.mean, u.mean),
        ("a twentieth is under", f.p05, u.p05),
        ("a twentieth is over", f.p95, u.p95),
        ("thinnest 25 mm²", f.least, u.least),
    )
    said = partial(length, us=us)
    return [[name, said(value), left_open(value, half, said)] for name, value, half in rows]


def _coats(film: FilmForecast, us: bool) -> list[list[str]]:
    return [
        [
            f"{number}",
            length(coat.figures.mean, us=us),
            f"{length(coat.figures.p05, us=us)} – {length(coat.figures.p95, us=us)}",
            f"{coat.pool_fraction:.0%}",
            f"{coat.dry_fraction:.1%}",
            temperature(coat.peak, us=us),
        ]
        for number, coat in enumerate(film.coats, 1)
    ]


def _cost(cost: Cost) -> list[list[str]]:
    rows = [
        ("resin", cost.resin_cents),
        ("pigment", cost.pigment_cents),
        *([("filler", cost.filler_cents)] if cost.filler_cents else []),
        ("mold's share", cost.mold_cents),
        ("work", cost.work_cents),
        ("one casting", cost.cents),
    ]
    said = [[name, f"{cents / 100:.2f} {cost.currency}"] for name, cents in rows]
    for name in cost.unknown:
        said = [[row, "price unknown" if row == name else amount] for row, amount in said]
    return [*said, ["resin of a solid one", f"{cost.per_solid:.0%}"]]
