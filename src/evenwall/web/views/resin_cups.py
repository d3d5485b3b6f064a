"""Cup tests of the job's resin: those that were made, and a form for one more."""

from __future__ import annotations

from evenwall.files.cup_test_file import cup_temperatures
from evenwall.reports.resin_report import cup_words
from evenwall.resin.data import CupTest
from evenwall.sheet_units import unit_name
from evenwall.units import to_si
from evenwall.web import rooms
from evenwall.web.amounts import number
from evenwall.web.tags import bullets, tag, words
from evenwall.web.views.resin_forms import SheetForm, asker, keeper, own_field, press, typed_into
from evenwall.web.window import Window


def cup_tests(window: Window, form: SheetForm) -> None:
    """Tests made in this shop: a list, and a form for one more."""
    found = rooms.calibrated(window.desk.folder, window.desk.file)
    words(
        "p",
        "Time a cup of this resin till it no longer flows. A few grams spread 1 to 2 mm thin in a lid tell more of the "
        "film than a full cup: they cure as the film does.",
    )
    bullets(cup_words(found))
    for place in range(len(found.resin.given.cup_tests)):
        forget = asker(form, forget_cup=place + 1)
        press(form, f"Forget test {place + 1}", forget, "small plain")
    for warning in found.cups.warnings if found.cups else ():
        words("p", warning, "caution")
    system = window.system
    mass, warm, wide = ("oz", "F", "in") if system == "us" else ("g", "C", "mm")
    fields = (
        ("mass", "Weight of the cup's mix", mass),
        ("temperature", "Resin when mixed", warm),
        ("air", "Air round the cup", warm),
        ("gel", "Gelled after", "min"),
        ("diameter", "Width of the cup or lid", wide),
    )
    with tag("div", "fields"):
        for key, label, unit in fields:
            own_field(label, form.cup.get(key, ""), keeper(form.cup, key), unit=unit_name(unit))
    with tag("label"):
        words(
            "span",
            "Thermometer readings, if you have them: a CSV with time_min,temperature_C in its first line",
        )
        box = tag("textarea", "readings", rows="3", spellcheck="false", aria_label="Thermometer readings")
        box.on("change", typed_into(form.cup, "readings"), js_handler="(e) => emit(e.target.value)")
        chosen = tag(
            "input", "", type="file", accept=".csv,text/csv,text/plain", aria_label="CSV of readings"
        )
        chosen.on(
            "change",
            typed_into(form.cup, "readings"),
            js_handler="async (e) => emit((await e.target.files[0].text()).slice(0, 400000))",
        )

    def add() -> None:
        test = _test_of(form.cup, mass, warm, wide)
        form.ask(cup=test)
        form.cup.clear()

    press(form, "Take this test in", add)


def _test_of(typed: dict[str, str], mass: str, warm: str, wide: str) -> CupTest:
    def si(key: str, unit: str) -> float | None:
        text = typed.get(key, "").strip()
        return to_si(number(text), unit) if text else None

    times, temperatures = (
        cup_temperatures(typed["readings"], where="the readings")
        if typed.get("readings", "").strip()
        else ((), ())
    )
    temperature = si("temperature", warm) or 0.0
    air = si("air", warm)
    return CupTest(
        mass=si("mass", mass) or 0.0,
        temperature=temperature,
        air_temperature=temperature if air is None else air,
        gel=si("gel", "min"),
        diameter=si("diameter", wide),
        times=times,
        temperatures=temperatures,
    )
