"""The data sheet as a form: every value with where it comes from, corrected in place; and a new sheet."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final

from evenwall.files.resin_file import PEDIGREES
from evenwall.files.resin_shelf import resins_at_hand
from evenwall.plan.sureness import called
from evenwall.reports.summary import capital
from evenwall.resin.data import Value
from evenwall.sheet_units import from_sheet_si, key_of, unit_name, units_of
from evenwall.web import rooms
from evenwall.web.amounts import plain
from evenwall.web.tags import tag, words
from evenwall.web.views.resin_forms import SheetForm, asker, field, keeper, own_field, press
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


def sheet_form(window: Window, form: SheetForm) -> None:
    """Every value of the resin's sheet."""
    found = rooms.calibrated(window.desk.folder, window.desk.file)
    words(
        "p",
        "Correct a value or fill one in: it is written into the job's own resin file. Empty a field to forget it; a "
        "typical value then stands in, and is marked so.",
    )
    with tag("div", "fields"):
        own_field("What you type is", form.pedigree, _setter(form, "pedigree"), options=PEDIGREES)
        own_field(
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
                    held = RATIOS.get(key, key)
                    _value_field(window, form, key, getattr(given, held), getattr(sheet, held))


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
            own_field(label, form.new.get(key, ""), keeper(form.new, key), unit=unit, note=_hint(key))

    def make() -> None:
        puts = tuple(f"{key}={form.new.get(key, '')}" for key, _ in asked[1:])
        form.ask(new=form.new.get("name", "").strip() or "our resin", put=puts, source=form.source)
        form.new.clear()

    press(form, "Begin its sheet", make)


def shelf_knob(window: Window, form: SheetForm) -> None:
    """The resin for the shop's other jobs."""
    name = window.desk.file.resin.name
    if name.endswith(".toml"):
        press(form, "Keep it for the shop's other jobs", asker(form, shelf=True), "small plain")


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

    field(f"sheet.{key}", label, "text" if ratio else "number", props, put)


def _unit(field: str, system: str) -> str:
    units = units_of(field)
    return next((unit for unit in units if system == "us" and unit in US_UNITS), units[0])


def _hint(key: str) -> str:
    return {"mix_by_weight": "E.g. 100:90", "pot_life_min": "Of about 100 g at 23 °C"}.get(key, "")


def _setter(form: SheetForm, name: str) -> Callable[[str], None]:
    return lambda text: setattr(form, name, text)
