"""Figures and their band from two meshes."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace
from typing import cast

import numpy as np
import pytest

from evenwall.film.fluid import constant_fluid
from evenwall.film.results import (
    CARRIED,
    MISSED_RIDGES,
    POOLED,
    RESTING,
    doubt_of,
    film_length,
    settled,
)
from evenwall.film.ridges import TELLING
from evenwall.film.state import CoatResult, Figures

USUAL = replace(RESTING, carried=dict.fromkeys(CARRIED, 0.0))


def _figures(p05: float, *, p95: float = 1.4e-3) -> Figures:
    return Figures(mean=1e-3, p05=p05, median=1e-3, p95=p95, cv=0.2, least=3e-4)


@pytest.mark.parametrize("more", [2.0, 2.5, 4.0, 8.0])
@pytest.mark.parametrize("true", [4e-4, 7e-4])
def test_a_figure_that_converges_with_the_edge_length_is_told_at_its_limit(more: float, true: float) -> None:
    fine, coarse = (_figures(true + 1e-4 * edge, p95=1.4e-3 - 1e-4 * edge) for edge in (1.0, more**0.5))
    told, band = settled(fine, coarse, nodes=more, doubt=USUAL)
    assert told.p05 == pytest.approx(true)
    assert told.p95 == pytest.approx(1.4e-3)
    assert 1e-4 < band.p05 < 2e-4
    assert (told.mean, told.median, told.least) == (fine.mean, fine.median, fine.least)


@pytest.mark.parametrize("more", [2.0, 4.0, 8.0])
@pytest.mark.parametrize("own", [0.0, 0.4, 0.9, 1.0, 1.5])
def test_a_film_with_a_length_of_its_own_is_carried_on_to_edges_as_long_and_no_further(
    more: float, own: float
) -> None:
    fine, coarse = (_figures(4e-4 + 1e-4 * edge) for edge in (1.0, more**0.5))
    told, _ = settled(fine, coarse, nodes=more, doubt=replace(RESTING, carried={"p05": own}))
    assert told.p05 == pytest.approx(4e-4 + 1e-4 * min(own, 1.0))
    assert (told.p95, told.cv) == (fine.p95, fine.cv)


def test_the_films_own_length_is_that_of_a_front_running_down_a_wall() -> None:
    fluid = constant_fluid(viscosity=1.0, density=1050.0, surface_tension=0.035)
    for thickness in (0.5e-3, 1e-3, 2e-3):
        speed = 1050.0 * 9.80665 * thickness**2 / 3.0  # of a Nusselt film of 1 Pa s on an upright wall [m/s]
        capillary_number = speed / 0.035
        assert film_length(fluid, thickness) == pytest.approx(
            thickness * (3.0 * capillary_number) ** (-1.0 / 3.0)
        )  # Troian et al. 1989, Europhys. Lett. 10, 25, from memory


@pytest.mark.parametrize("more", [2.0, 2.5, 4.0, 8.0])
def test_where_the_order_is_not_known_the_finer_mesh_is_told_and_the_band_reaches_to_the_limit(
    more: float,
) -> None:
    fine, coarse = (_figures(4e-4 + 1e-4 * edge) for edge in (1.0, more**0.5))
    for doubt in (RESTING, MISSED_RIDGES):
        told, band = settled(fine, coarse, nodes=more, doubt=doubt)
        assert told == fine
        assert fine.p05 - 4e-4 < band.p05
    assert settled(fine, coarse, nodes=more, doubt=MISSED_RIDGES)[1].p05 > 2.0 * 1.25e-4


@pytest.mark.parametrize("more", [2.0, 2.5, 4.0, 8.0])
@pytest.mark.parametrize("order", [0.5, 0.7, 1.0, 2.0])
def test_where_no_order_shows_the_band_reaches_the_limit_at_any_from_one_half_on(
    more: float, order: float
) -> None:
    """The range of orders that Oberkampf & Roy 2010, section 8.6.3, let count, from memory."""
    fine, coarse = (_figures(4e-4 + 1e-4 * edge**order) for edge in (1.0, more**0.5))
    for doubt in (POOLED, MISSED_RIDGES):
        _, band = settled(fine, coarse, nodes=more, doubt=doubt)
        assert 1.25 * (fine.p05 - 4e-4) < band.p05


@pytest.mark.parametrize("nodes", [1.5, 4.0])
@pytest.mark.parametrize("pool", [0.0, 0.2])
def test_a_second_mesh_that_misses_ridges_scatters_as_such_meshes_do(nodes: float, pool: float) -> None:
    fluid = constant_fluid(viscosity=1.0, density=1050.0, surface_tension=0.035)
    coat = cast(
        "CoatResult",
        SimpleNamespace(pool_fraction=pool, figures=_figures(6e-4), node_area=np.full(100, 6e-6)),
    )
    few, many = (
        doubt_of([coat], [coat], nodes=nodes, missed=0.0, others_missed=share, fluid=fluid)
        for share in (0.9 * TELLING, TELLING)
    )
    assert few.chance == RESTING.chance
    assert many.chance == MISSED_RIDGES.chance
    assert (few.safety, few.order, few.carried) == (many.safety, many.order, many.carried)


def test_no_thickness_is_told_below_zero_nor_a_twentieth_beyond_the_median_or_under_the_thinnest_patch() -> (
    None
):
    fine = _figures(2e-4)
    told, band = settled(fine, _figures(9e-4), nodes=4.0, doubt=USUAL)
    assert told.p05 == told.least == band.p05 == 0.0
    crossed, _ = settled(_figures(9e-4, p95=1.1e-3), _figures(2e-4, p95=1.9e-3), nodes=4.0, doubt=USUAL)
    assert crossed.p05 == crossed.median == crossed.p95


def test_meshes_that_agree_by_chance_leave_the_scatter() -> None:
    one = _figures(6e-4)
    told, band = settled(one, replace(one), nodes=4.0, doubt=USUAL)
    assert told == one
    assert band.p05 == pytest.approx(USUAL.chance["p05"] * 6e-4)
