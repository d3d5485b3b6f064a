"""Forecast: the wall that the shots will make, run beside the app, kept, and laid side by side."""

from __future__ import annotations

import json
import time
from collections.abc import Callable
from functools import partial
from typing import Any, Final

from evenwall.film.findings import EVEN
from evenwall.film.state import Figures, FilmForecast, Finding, Uncertainty
from evenwall.reports.summary import left_open
from evenwall.web import kept_runs, rooms, urls
from evenwall.web.amounts import clock
from evenwall.web.kept_runs import About
from evenwall.web.runs import Runs
from evenwall.web.tags import bullets, figure, knob, sheet, table, tag, words
from evenwall.web.views.sides import side_marks
from evenwall.web.window import Window, part, wants_piece

LEAD: Final = (
    "The film runs, thickens, warms and gels on the wall: what it leaves, coat by coat, and how sure that is."
)
NAMES: Final = {"quick": "Quick", "fine": "Fine", "finest": "Finest"}
SAYS: Final = {"quick": "a first look", "fine": "for the plan", "finest": "takes its time"}


class Shown:
    """What this window looks at: one kept forecast, or two; the whole wall (0) or one coat."""

    def __init__(self, window: Window) -> None:
        """The newest forecast, whole."""
        runs = kept_runs.listed(window.desk.folder)
        self.run = runs[0].run if runs else ""
        self.other = ""
        self.coat = 0
        self.known = {about.run for about in runs}

    def newest(self, window: Window) -> None:
        """Go to a forecast that has just been kept."""
        runs = kept_runs.listed(window.desk.folder)
        if runs and runs[0].run not in self.known:
            self.run, self.coat = runs[0].run, 0
        self.known |= {about.run for about in runs}


def build(window: Window, runs: Runs) -> None:
    """The view's own part of the page."""
    shown = Shown(window)
    with sheet("Run it"):
        window.area(lambda: _running(window, runs), work=True)
    with tag("div", "stack", style="margin-top:1.1rem"):
        picture: list[Any] = []
        latest = [""]

        def show() -> None:
            shown.newest(window)
            state = f"{shown.run} {shown.other} {shown.coat} {window.system}"
            if picture and state == latest[0]:
                return
            latest[0] = state
            for area in picture:
                area()

        def afresh() -> None:
            latest[0] = ""
            show()

        for make in (_kept, _walls, _said):
            picture.append(part(partial(make, window, shown, afresh), "stack", say=window.say)[1])
        window.areas.append(show)
        show()


def _running(window: Window, runs: Runs) -> None:
    desk = window.desk
    task = runs.task(desk.key, "forecast")
    if task is not None and not task.done:
        words("label", f"{task.doing[0].upper()}{task.doing[1:]}: {100 * task.share:.0f} %", for_="progress")
        tag("progress", id="progress", max="1", value=f"{task.share:.3f}")
        left = f"about {clock(task.left)} left" if task.left is not None else "time left: not known yet"
        with tag("div", "row"):
            words("span", "stopping ..." if task.stopping else left)
            knob("Stop, keep what is there", lambda: runs.stop(desk.key, "forecast"), "plain small")
        return
    if task is not None and task.error:
        words("p", window.say(task.error), "refusal", role="alert")
    if rooms.kept_piece(desk.folder, desk.file) is None:
        wants_piece(
            window, "A forecast needs the piece: drop a mesh in Piece, or say what you know without one."
        )
        return
    rooms.draft_now(desk.folder, desk.file)

    def start(fineness: str) -> None:
        name = kept_runs.next_name(desk.folder)
        runs.start(desk.key, "forecast", desk.folder, name, fineness, told=desk.tell_work, ended=desk.tell)
        desk.tell_work()

    with tag("div", "row"):
        for fineness, name in NAMES.items():
            main = "main" if fineness == "quick" else "plain"
            knob(
                f"{name}: {SAYS[fineness]}",
                lambda fineness=fineness: start(fineness),
                main,
                data_fineness=fineness,
            )


def _title(about: About) -> str:
    made = time.strftime("%d %b %H:%M", time.localtime(about.made))
    turned = f"{about.frame_rpm:g} and {about.cradle_rpm:g} turns/min"
    stopped = ", stopped" if about.stopped else ""
    return f"{made}, {about.fineness}, {about.coats} coats, {turned}{stopped}"


def _kept(window: Window, shown: Shown, again: Callable[[], None]) -> None:
    """The forecasts that are kept, and which two are shown."""
    runs = kept_runs.listed(window.desk.folder)
    if not runs:
        words("p", "No forecast is kept yet.")
        return
    result = kept_runs.load(window.desk.folder, shown.run)
    with tag("section", "sheet"), tag("div", "fields roomy"):
        options = [(about.run, _title(about)) for about in runs]
        _choice("Which forecast", options, shown.run, "run", shown, again)
        others = [("", "none"), *(pair for pair in options if pair[0] != shown.run)]
        _choice("Beside it", others, shown.other, "other", shown, again)
        coats = [("0", "the whole wall")]
        coats += [
            (str(k + 1), f"coat {k + 1}, from pour to gel") for k in range(len(result.coats) if result else 0)
        ]
        _choice("Look at", coats, str(shown.coat), "coat", shown, again)


def _choice(
    label: str, options: list[tuple[str, str]], value: str, what: str, shown: Shown, again: Callable[[], None]
) -> None:
    field = tag("shop-field", kind="choice", label=label, value=value, options=json.dumps(options))
    allowed = {name for name, _ in options}

    def take(event: Any) -> None:
        answer = str(event.args["detail"])
        if answer in allowed:
            setattr(shown, what, int(answer) if what == "coat" else answer)
            again()

    field.on("answer", take, args=["detail"])


def _walls(window: Window, shown: Shown, again: Callable[[], None]) -> None:
    """The wall in 3-D; two walls and their difference where two are chosen."""
    about, other = (kept_runs.about_run(window.desk.folder, run) for run in (shown.run, shown.other))
    result = kept_runs.load(window.desk.folder, shown.run)
    if about is None:
        return
    if result is None:
        words("p", f"{_title(about)}: kept by another version of evenwall that this one can't read, or damaged. "
                   "Run it again.", "refusal", role="alert")  # fmt: skip
        return
    unit = "in" if window.system == "us" else "mm"
    key = window.desk.key
    top = max(about.top, other.top if other else 0.0)
    scale = {"unit": unit, "wanted": str(about.wanted), "top": str(top)}
    film = f"{urls.film(key, about.run)}?coat={shown.coat}"
    if shown.coat:
        scale["top"] = str(_coat_top(result, shown.coat))
        scale["wanted"] = str(about.wanted / about.coats)
    found = [
        {"name": str(n + 1), "at": f.at, "kind": "number"} for n, f in enumerate(_findings(result, shown))
    ]
    sides = side_marks(result.wall.vertices, window.desk.file.piece.sides)
    marks = json.dumps([*found, *sides])
    if other is None:
        tag("wall-view", id="wall", film=film, label="Wall thickness on the piece", marks=marks, **scale)
        return
    with tag("div", "pair"):
        with tag("figure", style="margin:0"):
            words("figcaption", _title(about))
            tag(
                "wall-view", "low", id="wall", film=film, label=f"Wall, {_title(about)}", marks=marks, **scale
            )
        with tag("figure", style="margin:0"):
            words("figcaption", _title(other))
            beside = f"{urls.film(key, other.run)}?coat={min(shown.coat, other.coats)}"
            tag(
                "wall-view",
                "low",
                id="wall-2",
                follow="wall",
                film=beside,
                label=f"Wall, {_title(other)}",
                **scale,
            )
        with tag("figure", style="margin:0"):
            words("figcaption", "The first less the second, whole wall")
            less = urls.difference(key, about.run, other.run)
            tag("wall-view", "low", id="wall-3", follow="wall", film=less, colours="difference", unit=unit,
                label="Difference of the two walls")  # fmt: skip


def _coat_top(result: FilmForecast, coat: int) -> float:
    one = result.coats[min(coat, len(result.coats)) - 1]
    return max(2.5 * one.figures.mean, one.figures.p95)


def _findings(result: FilmForecast, shown: Shown) -> list[Finding]:
    coats = result.coats if shown.coat == 0 else result.coats[shown.coat - 1 : shown.coat]
    whole = result.findings if shown.coat == 0 else ()
    return [*whole, *(finding for coat in coats for finding in coat.findings)][:24]


def _said(window: Window, shown: Shown, again: Callable[[], None]) -> None:
    """The figures and findings in words: the same as the picture, for whoever can't see it."""
    about = kept_runs.about_run(window.desk.folder, shown.run)
    result = kept_runs.load(window.desk.folder, shown.run)
    if about is None or result is None:
        return
    with tag("div", "spread wide-left"):
        with sheet("The wall"):
            _figures(window, about, result)
        with sheet("What to watch"):
            found = _findings(result, shown)
            if not found:
                words("p", "Nothing stands out: no dry wall, no pool, no lump.", "good")
            with tag("ul", "plain-list"):
                for numbers, sentence in _grouped(found):
                    words("li", window.say(f"{numbers}: {sentence}"))
            if result.stopped:
                words("p", "This run was stopped: what follows is not in it.", "caution")
            with tag("details"):
                words("summary", "What this takes for granted")
                bullets([window.say(line) for line in (*result.assumptions, result.history_reason)])
    with sheet("Coat by coat"):
        _coats(window, result)


def _grouped(found: list[Finding]) -> list[tuple[str, str]]:
    """Findings that say the same, once, under the numbers that they have in the picture."""
    said: dict[str, list[str]] = {}
    for number, finding in enumerate(found, 1):
        said.setdefault(f"{finding.text} {finding.help}".strip(), []).append(str(number))
    return [(", ".join(numbers), sentence) for sentence, numbers in said.items()]


def _figures(window: Window, about: About, result: FilmForecast) -> None:
    band = result.uncertainty
    figures = result.figures
    with tag("dl", "figures"):
        figure("On average", *_with_band(window, figures.mean, band.mean))
        figure("Least anywhere", *_with_band(window, figures.least, band.least))
        figure("A twentieth is thinner than", *_with_band(window, figures.p05, band.p05))
        figure("A twentieth is thicker than", *_with_band(window, figures.p95, band.p95))
    if figures.p05 > 0:
        words("p", f"Thick to thin is {figures.p95 / figures.p05:.1f} to 1: {_evenness(figures, band)}.")


def _evenness(figures: Figures, band: Uncertainty) -> str:
    """Whether the wall is even, and whether what the meshes leave open may turn that."""
    if figures.p95 >= EVEN * figures.p05:
        return f"not even ({EVEN:.0f} to 1 would be)"
    if figures.p95 + band.p95 < EVEN * (figures.p05 - band.p05):
        return "even"
    return "even on this mesh, but what is left open here may make it uneven"


def _coats(window: Window, result: FilmForecast) -> None:
    rows = [
        [
            str(k + 1),
            " ".join(_with_band(window, coat.figures.mean, coat.uncertainty.mean)),
            " ".join(_with_band(window, coat.figures.least, coat.uncertainty.least)),
            f"{clock(coat.gel_film)} ± {coat.uncertainty.gel_film:.0f} s",
            f"{100 * coat.pool_fraction:.0f} %",
            window.amount(coat.peak, "C", digits=0),
            "yes" if coat.lump else "no",
        ]
        for k, coat in enumerate(result.coats)
    ]
    table(
        ["coat", "average", "least", "film gels", "pooled", "hottest", "lump"],
        rows,
        caption="Coats of this forecast",
    )
    words(
        "p",
        f"{result.nodes} nodes, {result.elapsed:.0f} s of computing; liquid kept to {result.volume_error:.0e}. "
        "± and (0 to ...) are what mesh and steps leave open, not what the resin's data leave open.",
        "note",
    )


def _with_band(window: Window, value: float, half: float) -> tuple[str, str]:
    """A thickness [m], and what mesh and steps leave open in it."""
    said = partial(window.amount, unit="mm")
    return said(value), left_open(value, half, said)
