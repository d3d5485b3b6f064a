"""Resin: what is mixed, how warm it is today, and the minutes that follow, with how sure they are."""

from __future__ import annotations

from typing import Final

from nicegui import run

from evenwall.plan.cautions import ALWAYS
from evenwall.plan.sureness import called, lag_sentence, look_up_sentence, stop_with_cup_sentence
from evenwall.reports.resin_report import (
    fit_words,
    lever_words,
    mix_words,
    setting_words,
    thick_words,
    warmth_words,
)
from evenwall.reports.summary import WITNESSES, capital
from evenwall.resin.spread import Band, Influence
from evenwall.web import rooms
from evenwall.web.amounts import clock
from evenwall.web.asks import Ask
from evenwall.web.runs import Runs
from evenwall.web.tags import bullets, chart, figure, sheet, table, tag, words
from evenwall.web.views.resin_chart import cure_chart
from evenwall.web.views.resin_cups import cup_tests
from evenwall.web.views.resin_forms import SheetForm
from evenwall.web.views.resin_sheet import (
    names_at_hand,
    new_sheet,
    sheet_form,
    shelf_knob,
)
from evenwall.web.window import Window

LEAD: Final = "A data sheet's numbers and today's temperature give the minutes that everything else hangs on."
WATCHED: Final = (
    ("rest", "the rest in the mixing cup"),
    ("thin layer", "a few grams, thin in a lid"),
    ("poured cup", "a small cup poured with the shot"),
)
MOST: Final = 8  # influences listed


def build(window: Window, runs: Runs) -> None:
    """The view's own part of the page."""
    form = SheetForm(window)
    with tag("div", "spread"):
        with tag("div", "stack"):
            _asks(window, form)
            with sheet("Before you mix"):
                for caution in ALWAYS:
                    if caution.step in ("weigh", "mix", "clean"):
                        words("p", caution.text, "caution")
        with tag("div", "stack"):
            with sheet("The minutes today"):
                window.area(lambda: _minutes(window), aria_live="polite")
            with sheet("The first coat in its cup and on the wall"):
                window.area(lambda: _chart(window))
            with sheet("How sure this is"):
                window.area(lambda: _sure(window))
            with sheet("The data sheet"):
                window.area(lambda: _account(window))
                with tag("details"):
                    words("summary", "Type or correct it")
                    window.area(lambda: sheet_form(window, form))
                with tag("details"):
                    words("summary", "Cup tests")
                    window.area(lambda: cup_tests(window, form))


def _asks(window: Window, form: SheetForm) -> None:
    with sheet("What is mixed"):
        window.area(lambda: window.ask(_which(window), columns=False))
        window.area(lambda: shelf_knob(window, form))
        window.ask(
            Ask(
                key="resin.pigment_percent",
                label="Pigment in part B",
                typical=False,
                note="Cured colour is paler than wet.",
            ),
            Ask(key="resin.tinted_coats", label="Coats that show", unset="all are tinted"),
            Ask(key="resin.filler_percent", label="Filler in the mix", typical=False),
            Ask(key="resin.filler_density_g_mL", label="Its density", unset="needed with a filler"),
        )
        with tag("details"):
            words("summary", "Another resin")
            window.area(lambda: new_sheet(window, form))
    with sheet("The shop today"):
        window.ask(
            Ask(key="shop.air_C", label="Air"),
            Ask(key="shop.resin_C", label="Resin in the jugs", unset="as warm as the air"),
            Ask(key="shop.mold_C", label="Mold", unset="as warm as the air"),
            Ask(key="shop.humidity_percent", label="Relative humidity"),
        )
        window.area(lambda: _today(window))
    with sheet("The cup you watch"):
        window.ask(
            Ask(key="shop.witness", label="It is", kind="choice", options=WATCHED),
            Ask(key="shop.witness_g", label="Poured into it", unset="5 g in a lid, 30 g in a cup"),
        )


def _which(window: Window) -> Ask:
    return Ask(key="resin.name", label="Resin", kind="choice", options=names_at_hand(window))


def _today(window: Window) -> None:
    for caution in rooms.today_now(window.desk.folder, window.desk.file).cautions:
        words("p", caution.text, "caution")


def _minutes(window: Window) -> None:
    today = rooms.today_now(window.desk.folder, window.desk.file)
    times = today.story.minutes
    with tag("dl", "figures"):
        figure("Working time", clock(times.working), f"in a cup of {window.amount(today.first.mass, 'g')}")
        figure("Cup gels", clock(times.gel_witness), WITNESSES[_kind(window)])
        figure("Film gels", clock(times.gel_film), "on the cold mold's wall")
        figure("Next coat", clock(times.next_from), f"and until {clock(times.next_to)}")
        figure("Open from", clock(today.clock.open_after), "after the last coat's mixing")
        figure("Hottest in the cup", window.amount(times.cup_peak, "C", digits=0), "if it is not poured")
    words("p", f"The fresh mix has {thick_words(today)}. {capital(stop_with_cup_sentence(times))}.")
    if len(today.clock.coats) > 1:
        heads = ["shot", "wall", "cup gels", "film gels", "next coat", "time to spare"]
        rows = [
            [
                coat.name,
                window.amount(coat.wall_temperature, "C", digits=0),
                clock(coat.minutes.gel_witness),
                clock(coat.minutes.gel_film),
                clock(coat.minutes.next_from),
                f"{coat.budget.spare:.0f} s",
            ]
            for coat in today.clock.coats
        ]
        table(heads, rows, caption="Minutes of each coat, each from its own mixing")
    first, *rest = lever_words(today)
    words("p", f"First coat {first}." + (" More time, should it get tight:" if rest else ""))
    bullets(rest)


def _kind(window: Window) -> str:
    return {"rest": "rest", "thin layer": "thin", "poured cup": "poured"}[window.desk.file.shop.witness]


def _chart(window: Window) -> None:
    today = rooms.today_now(window.desk.folder, window.desk.file)
    chart(
        cure_chart(today.curves, us=window.system == "us"),
        "Thickness, temperature and cure of cup and film over the minutes since mixing",
        "chart tall",
    )


async def _sure(window: Window) -> None:
    sure = await run.io_bound(rooms.sure_now, window.desk.folder, window.desk.file)
    if sure is None:  # the app is closing
        return
    today = rooms.today_now(window.desk.folder, window.desk.file)
    for coat, bands in zip(today.clock.coats, sure.coats, strict=True):
        words("h3", capital(coat.name))
        words(
            "p",
            f"The film gels {_between(bands.gel_film)} after mixing, the cup {_between(bands.gel_witness)}: "
            f"{lag_sentence(bands.film_lag)}.",
        )
    words("p", f"Open {_between(sure.open_after)} after the last mixing.")
    if sure.look_up is not None:
        words("p", f"{capital(look_up_sentence(sure.look_up))}.", "doubt")
    with tag("details"):
        words("summary", "What the film's gel hangs on")
        heads = ["value", "known", "at its low end", "at its high end"]
        table(
            heads, [_influence(row) for row in sure.hangs_on[:MOST]], caption="What the film's gel hangs on"
        )


def _influence(row: Influence) -> list[str]:
    known = "yes" if row.known else "assumed"
    return [called(row.name), known, f"{row.down / 60:+.1f} min", f"{row.up / 60:+.1f} min"]


def _between(band: Band) -> str:
    return f"{clock(band.low).removesuffix(' min')} to {clock(band.high)}"


def _account(window: Window) -> None:
    found = rooms.calibrated(window.desk.folder, window.desk.file)
    for warning in found.warnings:
        words("p", window.say(warning), "caution")
    words(
        "p", f"{capital(mix_words(found))}. {capital(setting_words(found))}. {capital(warmth_words(found))}."
    )
    words("h3", "What fixed what: sheet, then model")
    bullets([capital(fit_words(row)) for row in found.rows])
    if found.assumed:
        silent = ", ".join(called(name) for name in found.assumed)
        words("p", f"Typical or assumed, because the sheet is silent: {silent}.", "doubt")
