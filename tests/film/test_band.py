"""The band of a figure from two meshes."""

from __future__ import annotations

import pytest

from evenwall.film.results import MISSED_RIDGES, USUAL_DOUBT, apart
from evenwall.film.state import Figures


def _figures(p05: float) -> Figures:
    return Figures(mean=1e-3, p05=p05, median=1e-3, p95=1.4e-3, cv=0.2, least=4e-4)


@pytest.mark.parametrize("more", [2.0, 2.5, 4.0, 8.0])
@pytest.mark.parametrize("true", [4e-4, 9e-4])
def test_reaches_to_the_limit_of_a_figure_that_converges_with_the_edge_length(
    more: float, true: float
) -> None:
    fine, coarse = (_figures(true + 1e-4 * edge) for edge in (1.0, more**0.5))
    band = apart(fine, coarse, nodes=more)
    assert abs(fine.p05 - true) < band.p05 < 2.0 * abs(fine.p05 - true)
    assert apart(fine, coarse, nodes=more, doubt=MISSED_RIDGES).p05 > 2.0 * band.p05


def test_meshes_that_agree_by_chance_leave_the_scatter_and_one_mesh_nothing() -> None:
    one = _figures(6e-4)
    assert apart(one, _figures(6e-4)).p05 == pytest.approx(USUAL_DOUBT.chance["p05"] * 6e-4)
    assert apart(one, one).p05 == 0.0
