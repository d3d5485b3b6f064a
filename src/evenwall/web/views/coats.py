"""Coats: the wanted wall, and the cups that make it."""

from __future__ import annotations

from typing import Final

from nicegui import run

from evenwall.job import Plan
from evenwall.plan.weighout import ShotAmounts
from evenwall.reports.resin_report import lever_words
from evenwall.reports.summary import before_line
from evenwall.units import from_si
from evenwall.web import rooms, urls
from evenwall.web.amounts import clock, shown_unit, span, unit_name
from evenwall.web.asks import Ask
from evenwall.web.cups import cup_svg
from evenwall.web.runs import Runs
from evenwall.web.tags import bullets, drawing, link, sheet, table, tag, words
from evenwall.web.unsaid import unsaid
from evenwall.web.window import Window, wants_piece

LEAD: Final = (
    "How many shots, how big, and what goes into which cup: weighed and labelled before the first is mixed."
)


def build(window: Window, runs: Runs) -> None:
    """The view's own part of the page."""
    with tag("div", "spread"):
        with tag("div", "stack"):
            with sheet("The wall you want"):
                window.ask(
                    Ask(key="wall.target_wall_mm", label="Usual wall"),
                    Ask(key="wall.least_wall_mm", label="Least anywhere", unset="half the usual wall"),
                    Ask(key="wall.coats", label="Number of coats", unset="as many as keep each near 1 mm"),
                    Ask(key="wall.shots_g", label="Or your own shots", kind="numbers", unset="the plan chooses",
                        note="Weights with blanks between."),
                )  # fmt: skip
                window.ask(
                    Ask(key="wall.brush", label="Brush the narrow places first", kind="yes"),
                    Ask(key="wall.cleaning_shot", label="Start with a cleaning shot", kind="yes"),
                    columns=False,
                )
            with sheet("Scale, cups and hands"):
                window.ask(
                    Ask(key="shop.scale_step_g", label="Scale shows steps of"),
                    Ask(
                        key="shop.cups_mL",
                        label="Cups at hand",
                        kind="numbers",
                        note="Brimful, blanks between.",
                    ),
                    Ask(key="shop.stir_s", label="Stirring one shot"),
                    Ask(key="shop.pour_s", label="Pouring it"),
                    Ask(key="shop.close_s", label="Closing the mold", note="From your dry run."),
                    Ask(key="shop.wet_s", label="Turning every side down once", note="From your dry run."),
                    Ask(key="shop.brush_s", label="Brushing the narrow places"),
                    Ask(
                        key="shop.volume_cup_mm",
                        label="Cup to mix by volume in",
                        kind="numbers",
                        unset="weighing is better",
                        note="Inner width at bottom and rim, height: its fill lines come onto the worksheet.",
                    ),
                )
        with tag("div", "stack"):
            with sheet("The cups"):
                window.area(lambda: _cups(window), aria_live="polite")
            with sheet("On the clock"):
                window.area(lambda: _clock(window))
            with sheet("Worth saying"):
                window.area(lambda: _unsaid(window), late=True)


def _cups(window: Window) -> None:
    folder, file = window.desk.folder, window.desk.file
    day = rooms.day_now(folder, file)
    if day is None:
        wants_piece(window, "The cups follow once the piece is known.")
        return
    weighed = day.weigh_out
    cups = weighed.shots
    largest = max(shot.cup for shot in cups)
    with tag("div", "cups"):
        for shot in cups:
            _cup(window, shot, largest)
    mass = shown_unit("g", window.system)
    rows = [
        [
            shot.name,
            *(f"{from_si(x, mass):.1f}" for x in (shot.mass, shot.a, shot.b_weighed, shot.pigment)),
            window.amount(shot.a_volume, "mL"),
            window.amount(shot.a_volume + shot.b_volume, "mL"),
        ]
        for shot in cups
    ]
    unit = unit_name(mass)
    heads = [
        "shot",
        f"mix, {unit}",
        f"A, {unit}",
        f"B as weighed, {unit}",
        f"pigment in it, {unit}",
        "line A",
        "line A + B",
    ]
    table(heads, rows, caption="Weigh-out")
    if weighed.batch_pigment > 0.0:
        b, pigment = window.amount(weighed.batch_b, "g"), window.amount(weighed.batch_pigment, "g")
        words("p", f"Tint one batch of part B for all coats that show: {b} of B with {pigment} of pigment.")
    bullets([window.say(note) for note in weighed.notes])
    stays = window.amount(sum(shot.stays for shot in cups), "g")
    words("p", f"{stays} of all this stays in cups and on sticks. A cup at most half full; scrape the sides, pour into "
               "a second cup and stir again against streaks.", "note")  # fmt: skip
    if day.plan is None:
        words(
            "p",
            "By the wanted wall alone; Forecast tries these shots on the piece and may change them.",
            "doubt",
        )
        link("Try them in Forecast", urls.view(window.desk.key, "forecast"), "knob small")
    else:
        _reasons(window, day.plan)


def _reasons(window: Window, planned: Plan) -> None:
    words("h3", "What the forecast made of it")
    if planned.reasons:
        bullets([window.say(line) for line in planned.reasons])
    else:
        words("p", "Tried on the piece: nothing had to be changed.", "good")
    with tag("div", "row"):
        link("Worksheet to tape on the wall (PDF)", urls.paper(window.desk.key), "knob", target="_blank")
    cost = planned.cost
    words("p", f"One casting costs {cost.cents / 100:.2f} {cost.currency}, resin {cost.resin_cents / 100:.2f}; "
               f"it takes {100 * cost.per_solid:.0f} % of the resin of a solid one and saves "
               f"{window.amount(cost.saved, 'g')}.")  # fmt: skip
    hand = planned.hand
    words("p", f"It weighs {window.amount(hand.weight, 'g')}; {hand.thumb.verdict}.")
    if cost.unknown:
        words("p", f"Without a price, and so left out: {', '.join(cost.unknown)}.", "doubt")


def _cup(window: Window, shot: ShotAmounts, largest: float) -> None:
    label = f"{shot.name}: {window.amount(shot.a, 'g')} of A, {window.amount(shot.b_weighed, 'g')} of B"
    parts = [("A", shot.a_volume), ("A + B", shot.b_volume)]
    with tag("figure", "cup"):
        drawing(cup_svg(brimful=shot.cup, largest=largest, parts=parts, label=label))
        with tag("figcaption"):
            words("b", f"{shot.name}: {window.amount(shot.mass, 'g')}")
            words("div", f"A {window.amount(shot.a, 'g')}, B {window.amount(shot.b_weighed, 'g')}")
            if shot.filler > 0.0:
                words("div", f"filler {window.amount(shot.filler, 'g')}")
            words("div", f"cup of {window.amount(shot.cup, 'mL')}")


def _clock(window: Window) -> None:
    day = rooms.day_now(window.desk.folder, window.desk.file)
    if day is None:
        words("p", "The minutes follow once the piece is known.")
        return
    rows = [
        [
            coat.name,
            clock(coat.mixed_at),
            clock(coat.budget.pour_within),
            clock(coat.minutes.gel_witness),
            clock(coat.minutes.gel_film),
            span(coat.minutes.next_from, coat.minutes.next_to),
        ]
        for coat in day.clock.coats
    ]
    heads = ["shot", "mix at", "pour within", "cup gels", "film gels", "next coat"]
    table(heads, rows, caption="Minutes of the coats")
    words("p", "Each from its own mixing; “mix at” from the first. Film and cup rarely gel together.", "note")
    bullets([window.say(" ".join(before_line(one).split())) for one in day.clock.before])
    late = [coat for coat in day.clock.coats if coat.budget.spare < 0.0]
    for coat in late:
        words("p", f"{coat.name}: the wall is wetted {-coat.budget.spare:.0f} s too late.", "refusal")
    if late:
        words("p", "What gives the first coat more time, besides practising the closing:")
        levers = lever_words(rooms.today_now(window.desk.folder, window.desk.file))[1:]
        bullets([window.say(line) for line in levers])
    for caution in day.cautions:
        words("p", window.say(caution.text), "caution")
    words(
        "p",
        f"Open the mold {clock(day.clock.open_after)} after the last mixing at the earliest; sooner risks warp.",
    )


async def _unsaid(window: Window) -> None:
    """What nobody has said yet, with how much it would change the answer."""
    folder, file = window.desk.folder, window.desk.file
    account = rooms.kept_piece(folder, file)
    if account is None:
        wants_piece(window, "The piece: everything hangs on it.")
        return
    said = [*rooms.said(folder, file), file.units]
    found = await run.io_bound(rooms.remembered, "unsaid", said, lambda: unsaid(folder, file, window.amount))
    low, high = account.area_band
    band = 50.0 * (high - low) / account.area
    if not found and band < 2.0:
        words("p", "Nothing: what evenwall takes for granted here hardly changes these numbers.", "good")
        return
    words("p", "Assumed here; as shops differ, each would change the first coat so:", "note")
    with tag("ul", "plain-list"):
        if band >= 2.0:
            with tag("li"):
                link("the piece", urls.view(window.desk.key, "piece"))
                words("span", f": its area is known to ± {band:.0f} %, and so is every weight above.")
        for one in found or []:
            with tag("li"):
                link(one.guess.name, f"{urls.view(window.desk.key, one.guess.view)}#{one.guess.key}")
                words("span", f": {window.say(one.sentence)}.")
