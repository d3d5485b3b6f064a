"""The forecasts that a job folder keeps: listed, loaded, and made into what the 3-D view takes."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray
from scipy.spatial import cKDTree

from evenwall.files.job_file import write_whole
from evenwall.files.job_schema import JobFile
from evenwall.files.results import FOLDER, fingerprint, load_result, save_result
from evenwall.film.state import FilmForecast
from evenwall.job import Plan
from evenwall.units import to_si
from evenwall.web.binary import pack

ABOUT: Final = ".about.json"
KEPT: Final = 4  # forecasts held in memory
_loaded: dict[tuple[str, str], FilmForecast] = {}


@dataclass(frozen=True, kw_only=True)
class About:
    """A kept forecast in a few numbers, SI."""

    run: str  # its name
    made: float  # seconds since 1970
    fineness: str
    wanted: float  # wanted wall [m]
    coats: int
    resin: str
    frame_rpm: float
    cradle_rpm: float
    air_C: float
    mean: float  # [m]
    least: float  # [m]
    p05: float  # [m]
    p95: float  # [m]
    band_least: float  # half-width [m]
    band_p05: float  # half-width [m]
    band_p95: float  # half-width [m]
    lumps: int
    stopped: bool
    top: float  # end of the colour scale that suits it [m]


def keep(folder: Path, run: str, file: JobFile, result: FilmForecast, *, fineness: str, made: float) -> None:
    """Keep a forecast under the name `run`."""
    wanted = to_si(file.wall.target_wall_mm, "mm")
    about = About(
        run=run,
        made=made,
        fineness=fineness,
        wanted=wanted,
        coats=len(result.coats),
        resin=file.resin.name,
        frame_rpm=file.turning.frame_rpm,
        cradle_rpm=file.turning.cradle_rpm,
        air_C=file.shop.air_C,
        mean=result.figures.mean,
        least=result.figures.least,
        p05=result.figures.p05,
        p95=result.figures.p95,
        band_least=result.uncertainty.least,
        band_p05=result.uncertainty.p05,
        band_p95=result.uncertainty.p95,
        lumps=sum(coat.lump for coat in result.coats),
        stopped=result.stopped,
        top=float(max(1.5 * wanted, np.percentile(result.total, 99.0)))
        if len(result.total)
        else 1.5 * wanted,
    )
    save_result(folder, run, fingerprint(file.model_dump()), result)
    write_whole(folder / FOLDER / f"{run}{ABOUT}", json.dumps(asdict(about)).encode())


def take_in(folder: Path, file: JobFile, planned: Plan) -> None:
    """Keep the quick forecast of a plan that was made outside the app since the last forecast was kept."""
    made = (folder / FOLDER / "plan.json").stat().st_mtime
    if all(path.stat().st_mtime < made for path in (folder / FOLDER).glob(f"run-*{ABOUT}")):
        keep(folder, next_name(folder), file, planned.forecast, fineness="quick", made=made)


def listed(folder: Path) -> list[About]:
    """All kept forecasts, the newest first; damaged ones are left out."""
    found = []
    for path in (folder / FOLDER).glob(f"run-*{ABOUT}"):
        try:
            found.append(About(**json.loads(path.read_text(encoding="utf-8"))))
        except (OSError, ValueError, TypeError):
            continue
    return sorted(found, key=lambda about: about.made, reverse=True)


def about_run(folder: Path, run: str) -> About | None:
    """The kept forecast of that name in a few numbers; None where there is none."""
    return next((about for about in listed(folder) if about.run == run), None)


def next_name(folder: Path) -> str:
    """A name that no kept forecast has."""
    numbers = [int(about.run.removeprefix("run-")) for about in listed(folder)]
    return f"run-{max(numbers, default=0) + 1}"


def load(folder: Path, run: str) -> FilmForecast | None:
    """A kept forecast; None where there is none of that name."""
    if about_run(folder, run) is None:
        return None
    place = (str(folder), run)
    if place not in _loaded:
        result = load_result(folder, run, FilmForecast)
        if result is None:
            return None
        while len(_loaded) >= KEPT:
            _loaded.pop(next(iter(_loaded)))
        _loaded[place] = result
    return _loaded[place]


def film_block(result: FilmForecast, *, coat: int, top: float) -> bytes:
    """What the 3-D view plays: the whole wall (coat 0), or coat 1, 2 ... from its pour to its gel."""
    if coat == 0 or coat > len(result.coats):
        return _block(result.wall, result.total[None, :], {"top": top})
    one = result.coats[coat - 1]
    history = one.history
    words = [f"{100.0 * cure:.0f} % cured" for cure in history.conversion]
    meta = {"top": top, "times": [float(t) for t in history.times], "captions": words}
    return _block(one.surface, history.thickness, meta, gravity=history.gravity)


def difference_block(one: FilmForecast, other: FilmForecast) -> bytes:
    """The wall of `one` less that of `other`, on the nodes of `one`; where meshes differ, by the nearest node."""
    _, nearest = cKDTree(other.wall.vertices).query(one.wall.vertices)
    less = one.total - other.total[nearest]
    top = float(max(np.percentile(np.abs(less), 99.0), 1e-4))
    return _block(one.wall, less[None, :], {"top": top, "hollow": False})


def _block(
    wall: Any, thickness: NDArray[Any], meta: Mapping[str, Any], *, gravity: NDArray[np.float64] | None = None
) -> bytes:
    arrays: dict[str, NDArray[Any]] = {
        "vertices": wall.vertices,
        "faces": wall.faces.astype(np.uint32),
        "thickness": thickness.astype(np.float32),
    }
    if gravity is not None:
        arrays["gravity"] = gravity
    return pack(arrays, meta)
