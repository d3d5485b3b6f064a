"""Figures and their band from two meshes."""

from __future__ import annotations

from dataclasses import replace

import pytest

from evenwall.film.results import MISSED_RIDGES, RESTING, USUAL_DOUBT, settled
from evenwall.film.state import Figures


def _figures(p05: float, *, p95: float = 1.4e-3) -> Figures:
    return Figures(mean=1e-3, p05=p05, median=1e-3, p95=p95, cv=0.2, least=3e-4)


@pytest.mark.parametrize("more", [2.0, 2.5, 4.0, 8.0])
@pytest.mark.parametrize("true", [4e-4, 7e-4])
def test_a_figure_that_converges_with_the_edge_length_is_told_at_its_limit(more: float, true: float) -> None:
    fine, coarse = (_figures(true + 1e-4 * edge, p95=1.4e-3 - 1e-4 * edge) for edge in (1.0, more**0.5))
    told, band = settled(fine, coarse, nodes=more)
    assert told.p05 == pytest.approx(true)
    assert told.p95 == pytest.approx(1.4e-3)
    assert 1e-4 < band.p05 < 2e-4
    assert (told.mean, told.median, told.least) == (fine.mean, fine.median, fine.least)


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


def test_no_thickness_is_told_below_zero_nor_a_twentieth_beyond_the_median_or_under_the_thinnest_patch() -> (
    None
):
    fine = _figures(2e-4)
    told, band = settled(fine, _figures(9e-4), nodes=4.0)
    assert told.p05 == told.least == band.p05 == 0.0
    crossed, _ = settled(_figures(9e-4, p95=1.1e-3), _figures(2e-4, p95=1.9e-3), nodes=4.0)
    assert crossed.p05 == crossed.median == crossed.p95


def test_meshes_that_agree_by_chance_leave_the_scatter() -> None:
    one = _figures(6e-4)
    told, band = settled(one, replace(one), nodes=4.0)
    assert told == one
    assert band.p05 == pytest.approx(USUAL_DOUBT.chance["p05"] * 6e-4)
