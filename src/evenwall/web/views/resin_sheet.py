"""The data sheet as a form: every value with where it comes from, corrected in place; and the cup tests."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from nicegui.events import GenericEventArguments

from evenwall.errors import EvenwallError
from evenwall.files.cup_test_file import cup_temperatures
from evenwall.files.resin_file import PEDIGREES
from evenwall.files.resin_job import Asked, done
from evenwall.files.resin_shelf import resins_at_hand
from evenwall.plan.sureness import called
from evenwall.reports.resin_report import cup_words
from evenwall.reports.summary import capital
from evenwall.resin.data import CupTest, Value
from evenwall.sheet_units import from_sheet_si, key_of, unit_name, units_of
from evenwall.units import to_si
from evenwall.web import rooms
from evenwall.web.amounts import number, plain
from evenwall.web.renew import Question
from evenwall.web.tags import bullets, knob, tag, words
from evenwall.web.window import Window

FIRST: Final = (
    "mix_by_weight", "mix_by_volume", "density_a", "density_b", "viscosity", "viscosity_temperature", "pot_life",
    "pot_life_mass", "pot_life_temperature", "gel_time", "peak_exotherm", "exotherm_mass", "demold", "recoat", "price",
)  # fmt: skip
SECOND: Final = (
    "ratio_tolerance", "pot_life_viscosity", "second_pot_life", "second_pot_life_temperature", "setting_time",
    "tack_free", "full_cure", "exotherm_temperature", "demold_thickness", "demold_temperature", "demold_conversion",
    "heat_limit", "shrinkage", "hardness", "tensile_strength", "tensile_modulus", "shelf_life_opened",
    "storage_temperature", "humidity_limit", "pigment_limit", "density", "heat_capacity", "conductivity",
    "reaction_heat", "surface_tension", "cure_activation", "flow_activation", "order_n", "order_m", "seed",
    "gel_conversion", "exponent_a", "exponent_b",
)  # fmt: skip
US_UNITS: Final = ("F", "in", "oz", "psi", "per_lb")
RATIOS: Final = {"mix_by_weight": "ratio", "mix_by_volume": "ratio_by_volume"}
NAMES: Final = {
    "mix_by_weight": "Parts A : B by weight",
    "mix_by_volume": "Parts A : B by volume",
    "demold": "Demold, thick casting",
    "demold_conversion": "Cured share to open a thin wall",
    "recoat": "Longest wait for the next coat",
}


class SheetForm:
    """The form of one window; it keeps where the numbers being typed come from."""

    def __init__(self, window: Window) -> None:
        """Nothing is shown yet."""
        self.window = window
        self.source, self.pedigree = "", "data sheet"
        self.new: dict[str, str] = {}
        self.cup: dict[str, str] = {}
        self.refused: dict[str, str] = {}  # by the button that was pressed

    def ask(self, **what: Any) -> list[str]:
        """Do it to the resin's file, and have every window show it; EvenwallError where it can't be."""
        lines = done(self.window.desk.folder, Asked(**what))
        self.window.desk.look()
        self.window.desk.tell()
        return lines


def sheet_form(window: Window, form: SheetForm) -> None:
    """Every value of the resin's sheet."""
    found = rooms.calibrated(window.desk.folder, window.desk.file)
    words(
        "p",
        "Correct a value or fill one in: it is written into the job's own resin file. Empty a field to forget it; a "
        "typical value then stands in, and is marked so.",
    )
    with tag("div", "fields"):
        _own_field("What you type is", form.pedigree, _setter(form, "pedigree"), options=PEDIGREES)
        _own_field(
            "It comes from",
            form.source,
            _setter(form, "source"),
            note="A document and its edition, or who when.",
        )
    given, sheet = found.resin.given, found.resin.sheet
    for name, keys in (("", FIRST), ("The rest of the sheet", SECOND)):
        with tag("details" if name else "div"):
            if name:
                words("summary", name)
            with tag("div", "fields"):
                for key in keys:
                    field = RATIOS.get(key, key)
                    _value_field(window, form, key, getattr(given, field), getattr(sheet, field))


def new_sheet(window: Window, form: SheetForm) -> None:
    """A resin that is not on the list: three numbers make a sheet, the rest is filled in later."""
    asked = (
        ("name", "What it is called"),
        ("mix_by_weight", "Its parts A : B by weight"),
        ("pot_life_min", "Its pot life"),
    )
    with tag("div", "fields"):
        for key, label in asked:
            unit = "min" if key == "pot_life_min" else ""
            _own_field(label, form.new.get(key, ""), _keeper(form.new, key), unit=unit, note=_hint(key))

    def make() -> None:
        puts = tuple(f"{key}={form.new.get(key, '')}" for key, _ in asked[1:])
        form.ask(new=form.new.get("name", "").strip() or "our resin", put=puts, source=form.source)
        form.new.clear()

    _press(form, "Begin its sheet", make)


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
        forget = _asker(form, forget_cup=place + 1)
        _press(form, f"Forget test {place + 1}", forget, "small plain")
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
            _own_field(label, form.cup.get(key, ""), _keeper(form.cup, key), unit=unit_name(unit))
    with tag("label"):
        words(
            "span",
            "Thermometer readings, if you have them: a CSV with time_min,temperature_C in its first line",
        )
        box = tag("textarea", "readings", rows="3", spellcheck="false", aria_label="Thermometer readings")
        box.on("change", _typed_into(form.cup, "readings"), js_handler="(e) => emit(e.target.value)")
        chosen = tag(
            "input", "", type="file", accept=".csv,text/csv,text/plain", aria_label="CSV of readings"
        )
        chosen.on(
            "change",
            _typed_into(form.cup, "readings"),
            js_handler="async (e) => emit((await e.target.files[0].text()).slice(0, 400000))",
        )

    def add() -> None:
        test = _test_of(form.cup, mass, warm, wide)
        form.ask(cup=test)
        form.cup.clear()

    _press(form, "Take this test in", add)


def shelf_knob(window: Window, form: SheetForm) -> None:
    """The resin for the shop's other jobs."""
    name = window.desk.file.resin.name
    if name.endswith(".toml"):
        _press(form, "Keep it for the shop's other jobs", _asker(form, shelf=True), "small plain")


def names_at_hand(window: Window) -> tuple[tuple[str, str], ...]:
    """Resins to choose from, with their names on the page."""
    at_hand = resins_at_hand(window.desk.folder)
    return tuple((name, name.removesuffix(".toml").replace("-", " ")) for name in at_hand)


def _value_field(window: Window, form: SheetForm, key: str, own: Value | None, full: Value | None) -> None:
    """One value: what the sheet says, or what stands in for it."""
    ratio = key in RATIOS
    unit = "" if ratio else _unit(key, window.system)
    typed_key = key if ratio else key_of(key, unit)

    def told(value: float) -> str:
        return f"100:{plain(100 * value, 4)}" if ratio else plain(from_sheet_si(value, unit), 4)

    note = ""
    if own is None and full is not None:
        band = "" if full.low is None or full.high is None else f" ({told(full.low)} to {told(full.high)})"
        note = f"{told(full.number)}{band} stands in"
    label = NAMES.get(key, capital(called(key)))
    shown = full if own is None else own
    props = {
        "value": "" if own is None else told(own.number),
        "unit": unit_name(unit),
        "note": note,
        "source": "" if shown is None else shown.pedigree,
        "origin": "" if shown is None else f"{shown.source}.",
    }

    def put(text: str) -> None:
        form.ask(put=(f"{typed_key}={text.strip()}",), source=form.source, pedigree=form.pedigree)

    _field(f"sheet.{key}", label, "text" if ratio else "number", props, put)


def _unit(field: str, system: str) -> str:
    units = units_of(field)
    return next((unit for unit in units if system == "us" and unit in US_UNITS), units[0])


def _own_field(
    label: str,
    value: str,
    keep: Callable[[str], None],
    *,
    unit: str = "",
    note: str = "",
    options: tuple[str, ...] = (),
) -> None:
    """A field that is only kept till its form is sent."""
    props = {"value": value, "unit": unit, "note": note}
    if options:
        props["options"] = "[" + ", ".join(f'["{one}", "{one}"]' for one in options) + "]"
    _field(f"form.{label}", label, "choice" if options else "text", props, keep)


def _field(key: str, label: str, kind: str, props: dict[str, str], put: Callable[[str], None]) -> None:
    field = Question("shop-field")
    field._props.update({"kind": kind, "label": label, "data-key": key, "error": "", **props})

    def answer(event: GenericEventArguments) -> None:
        asked: Any = event.sender
        text = str(event.args["detail"] if isinstance(event.args, dict) else event.args)[:2000]
        try:
            put(text)
            asked._props["error"] = ""
        except EvenwallError as error:
            asked._props["error"] = str(error)
        asked.update()

    field.on("answer", answer, args=["detail"])


def _press(form: SheetForm, name: str, act: Callable[[], Any], classes: str = "small") -> None:
    """A button, and its last refusal under it."""

    def pressed() -> None:
        form.refused = {}
        try:
            act()
        except EvenwallError as error:
            form.refused = {name: str(error)}
            form.window.changed()

    knob(name, pressed, classes)
    if name in form.refused:
        words("p", form.refused[name], "refusal", role="alert")


def _test_of(typed: dict[str, str], mass: str, warm: str, wide: str) -> CupTest:
    def si(key: str, unit: str) -> float | None:
        text = typed.get(key, "").strip()
        return to_si(number(text), unit) if text else None

    times, temperatures = (
        cup_temperatures(typed["readings"], where="the readings")
        if typed.get("readings", "").strip()
        else ((), ())
    )
    temperature = si("temperature", warm)
    air = si("air", warm)
    return CupTest(
        mass=si("mass", mass) or 0.0,
        temperature=temperature if temperature is not None else 0.0,
        air_temperature=air if air is not None else temperature if temperature is not None else 0.0,
        gel=si("gel", "min"),
        diameter=si("diameter", wide),
        times=times,
        temperatures=temperatures,
    )


def _hint(key: str) -> str:
    return {"mix_by_weight": "E.g. 100:90", "pot_life_min": "Of about 100 g at 23 °C"}.get(key, "")


def _keeper(kept: dict[str, str], key: str) -> Callable[[str], None]:
    return lambda text: kept.update({key: text})


def _typed_into(kept: dict[str, str], key: str) -> Callable[[GenericEventArguments], None]:
    return lambda event: kept.update({key: str(event.args)})


def _setter(form: SheetForm, name: str) -> Callable[[str], None]:
    return lambda text: setattr(form, name, text)


def _asker(form: SheetForm, **what: Any) -> Callable[[], Any]:
    return lambda: form.ask(**what)
