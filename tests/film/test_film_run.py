"""A forecast from shots to findings, and the one clear sentence for what can't be forecast."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from evenwall.errors import InputError, MeshError, MotionError, ResinError, StoppedError
from evenwall.files.resin_file import load_resin
from evenwall.film.air import GIVES
from evenwall.film.run import forecast
from evenwall.film.state import Brushed, Closing, FilmForecast, Shot
from evenwall.geometry.surface import Surface, face_areas
from evenwall.proof.shapes import ball
from evenwall.resin.calibrate import calibrate
from evenwall.resin.data import DataSheet, Resin, Value
from evenwall.turning.kinematics import Motion
from evenwall.turning.patterns import constant, still, stopped


def typical(number: float) -> Value:
    return Value(number=number, source="invented for this test", pedigree="assumed")


@pytest.fixture(scope="module")
def resin() -> Resin:
    return calibrate(
        DataSheet(name="test resin", ratio=typical(1.0), pot_life=typical(180.0), viscosity=typical(0.12))
    )


@pytest.fixture(scope="module")
def egg() -> Surface:
    round_one = ball(0.045, rounds=3)
    return Surface(round_one.vertices * [0.8, 1.0, 1.4], round_one.faces)


TURNING: Motion = constant(frame_rate=1.05, cradle_rate=0.65)


def coat_of(surface: Surface, thickness: float) -> Shot:
    return Shot(volume=float(face_areas(surface).sum()) * thickness, temperature=295.15, pour_after=90.0)


def run(surface: Surface, resin: Resin, shots: tuple[Shot, ...], motion: Motion = TURNING) -> FilmForecast:
    return forecast(surface, resin, motion, shots, nodes=700, second_mesh=False)


def test_a_planned_coat_is_even_and_leaves_no_pool(egg: Surface, resin: Resin) -> None:
    done = run(egg, resin, (coat_of(egg, 1e-3),))
    coat = done.coats[0]
    assert coat.figures.p95 / coat.figures.p05 < 3.0
    assert coat.dry_fraction < 0.01
    assert coat.pool_fraction < 0.02
    assert not coat.lump
    assert done.volume_error < 1e-10
    assert done.enclosed_error < 0.005
    assert coat.wetted.max() < coat.gel_film < coat.turn_until


def test_far_too_large_a_shot_of_a_resin_that_sets_at_once_is_a_lump(egg: Surface) -> None:
    # trade: too much in one shot leaves liquid that rolls together, warms, and sets as a lump
    sudden = load_resin("museum-sudden")
    right = run(egg, sudden, (coat_of(egg, 1e-3),)).coats[0]
    much = run(egg, sudden, (coat_of(egg, 6e-3),)).coats[0]
    assert not right.lump
    assert much.lump
    assert much.pool_fraction > 0.02
    assert much.peak > right.peak + 10.0


def test_coats_add_up_and_rubber_stays_warm(egg: Surface, resin: Resin) -> None:
    one = coat_of(egg, 1e-3)
    late = Shot(volume=one.volume, temperature=295.15, mixed_at=700.0, pour_after=90.0)
    done = run(egg, resin, (one, late))
    assert np.allclose(done.coat_thickness.sum(axis=0), done.total)
    assert done.enclosed_error < 0.005
    assert done.coats[1].gel_film < done.coats[0].gel_film
    assert done.figures.mean == pytest.approx(2e-3, rel=0.1)


def test_two_meshes_give_the_band_and_a_coarse_start_is_said(egg: Surface, resin: Resin) -> None:
    shot = coat_of(egg, 1.2e-3)
    whole = forecast(egg, resin, TURNING, (shot,), nodes=1500, second_mesh=False)
    done = forecast(egg, resin, TURNING, (shot,), nodes=1500)
    assert whole.history == "full"
    assert done.history_reason
    assert done.figures.p05 == pytest.approx(whole.figures.p05, rel=0.03)
    assert done.figures.median == pytest.approx(whole.figures.median, rel=0.03)
    assert done.figures.p95 == pytest.approx(whole.figures.p95, rel=0.03)
    band = done.coats[0].uncertainty
    assert 0.0 < band.p05 < 0.5 * done.figures.p05


def test_turning_that_stops_early_lets_the_film_sag(egg: Surface, resin: Resin) -> None:
    done = run(egg, resin, (coat_of(egg, 1.5e-3),), stopped(TURNING, at=60.0))
    assert any(one.kind == "sag" for one in done.coats[0].findings)


def test_progress_rises_and_a_stop_keeps_what_was_done(egg: Surface, resin: Resin) -> None:
    shares: list[float] = []
    said: list[str] = []

    def progress(share: float, text: str) -> None:
        shares.append(share)
        said.append(text)

    done = forecast(
        egg, resin, TURNING, (coat_of(egg, 1e-3),), nodes=700, second_mesh=False,
        progress=progress, stop=lambda: sum(text.startswith("coat") for text in said) > 3,
    )  # fmt: skip
    assert done.stopped
    assert shares == sorted(shares)
    assert done.coats[0].volume_error < 1e-10
    assert [one.kind for one in done.coats[0].findings][-1] == "stopped"


def test_a_stop_between_two_coats_keeps_the_first(egg: Surface, resin: Resin) -> None:
    shots = (coat_of(egg, 1e-3), replace(coat_of(egg, 1e-3), mixed_at=700.0))
    reached: list[float] = []

    done = forecast(
        egg, resin, TURNING, shots, nodes=700, second_mesh=False,
        progress=lambda share, _: reached.append(share), stop=lambda: max(reached, default=0.0) > 0.499,
    )  # fmt: skip
    assert done.stopped
    assert len(done.coats) == 1
    assert done.figures.mean == pytest.approx(1e-3, rel=0.1)


def test_a_stop_before_the_first_coat_is_said_in_a_sentence(egg: Surface, resin: Resin) -> None:
    with pytest.raises(StoppedError, match="before the first coat"):
        forecast(egg, resin, TURNING, (coat_of(egg, 1e-3),), nodes=700, stop=lambda: True)


@pytest.mark.parametrize(
    ("changed", "fault", "said"),
    [
        ({"wall": lambda w: Surface(w.vertices, w.faces[1:])}, MeshError, "open"),
        ({"wall": lambda w: Surface(w.vertices, w.faces[:, ::-1].copy())}, MeshError, "turn its faces round"),
        ({"wall": lambda w: Surface(np.where(w.vertices > 0.06, np.nan, w.vertices), w.faces)}, MeshError, "vertex"),
        ({"shots": (Shot(volume=1e-3),)}, InputError, r"shot 1 of 1 is 1000 mL where \d+ mL of the cavity are left"),
        ({"shots": (Shot(volume=float("nan")),)}, InputError, "above 0"),
        ({"shots": ()}, InputError, "at least one"),
        ({"shots": (Shot(volume=2e-5), Shot(volume=2e-5, mixed_at=-9.0))}, InputError, "poured at 51 s, before"),
        ({"shots": (Shot(volume=2e-5, temperature=22.0),)}, InputError, "give kelvin"),
        ({"shots": (Shot(volume=2e-5, pour_after=-1.0),)}, InputError, "0 s or more"),
        ({"shots": (Shot(volume=2e-5, pour_after=3000.0),)}, ResinError, "gels in its cup"),
        ({"mold_temperature": 0.0}, InputError, "mold is at 0 K"),
        ({"motion": TURNING._replace(frame_rate=np.array([np.nan]))}, MotionError, "frame rate"),
        ({"resin": lambda r: replace(r, cure=r.cure._replace(rate_factor=0.0))}, ResinError, "not gelled after"),
        (
            {"brushed": Brushed(marked=ball(0.04, rounds=1), marks=np.ones(3), thickness=1e-4)},
            InputError,
            "3 marks on a mesh of 42 nodes",
        ),
    ],
)  # fmt: skip
def test_bad_input_gets_one_clear_sentence(egg, resin, changed, fault, said):
    given = {
        "wall": egg,
        "resin": resin,
        "motion": TURNING,
        "shots": (coat_of(egg, 1e-3),),
        "second_mesh": False,
    }
    given |= {
        name: value(given[name]) if callable(value) and name in ("wall", "resin") else value
        for name, value in changed.items()
    }
    with pytest.raises(fault, match=said) as caught:
        forecast(**given)
    assert "\n" not in str(caught.value)


def test_a_still_mold_leaves_a_pool(egg: Surface, resin: Resin) -> None:
    done = run(egg, resin, (coat_of(egg, 1e-3),), still())
    assert done.coats[0].lump
    assert done.coats[0].dry_fraction > 0.3


def test_turning_that_throws_the_liquid_gives_the_surface_at_rest(egg: Surface, resin: Resin) -> None:
    # hundreds of turns a minute send the liquid to the far walls: common practice, no source
    shot = coat_of(egg, 1e-3)
    done = run(egg, resin, (shot, shot), constant(frame_rate=30.0, cradle_rate=0.0))
    assert done.history == "spun"
    assert "times its weight" in done.history_reason
    assert done.volume_error < 1e-12
    assert [one.kind for one in done.coats[0].findings] == ["spun"]
    assert done.coats[0].dry_fraction > 0.4
    far = np.abs(done.wall.vertices[:, 1:]).max(axis=1)  # from the frame's axis, which is x
    assert far[done.total > 1e-3].min() > 0.5 * far.max()
    assert np.all(done.coats[1].thickness >= 0.0)


def test_shut_in_air_is_found_where_it_pushes_hard(egg: Surface, resin: Resin) -> None:
    def pushed(closing: Closing) -> FilmForecast:
        shot = coat_of(egg, 1e-3)
        return forecast(egg, resin, TURNING, (shot,), nodes=700, second_mesh=False, closing=closing)

    halves = pushed(Closing()).coats[0]
    # Gay-Lussac: air shut in at 295.15 K can't get warmer than the film
    assert 0.0 < halves.air_pressure < 101325.0 * (halves.history.temperature.max() / 295.15 - 1.0)
    board = Closing(opening=1.2 * GIVES / halves.air_pressure)
    shut, vented = (pushed(replace(board, vent=vent)).coats[0] for vent in (0.0, 3e-6))
    found = [one for one in shut.findings if one.kind == "air"]
    assert found[0].amount == shut.air_push == pytest.approx(1.2 * GIVES)
    assert "+z side" in found[0].where  # still upright when it is shut
    assert vented.air_push < 0.05 * shut.air_push
    assert not any(one.kind == "air" for one in vented.findings)


def test_a_brushed_layer_gels_first_and_makes_its_places_thicker(egg: Surface, resin: Resin) -> None:
    low = egg.vertices[:, 2] < -0.04
    layer = Brushed(marked=egg, marks=low.astype(float), thickness=4e-4, laid_after=90.0)
    shot = coat_of(egg, 1e-3)
    plain = run(egg, resin, (shot,))
    done = forecast(egg, resin, TURNING, (shot,), nodes=700, second_mesh=False, brushed=layer)
    assert plain.brush is None
    assert done.brush is not None
    assert done.brush.gel_film < np.inf
    assert done.brush.volume_error < 1e-10
    assert not any(one.kind in ("dry", "uneven") for one in done.brush.findings)
    assert np.allclose(done.brush.thickness + done.coat_thickness.sum(axis=0), done.total)
    place = done.wall.vertices[:, 2] < -0.045
    assert done.total[place].mean() > plain.total[place].mean() + 3e-4
    assert done.enclosed_error < 0.005
