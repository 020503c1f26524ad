"""Heat conduction into a layered pavement, exact in time for a steady flux at the surface.

The layers are cut into cells (finite volumes) that grow with depth. The cells' equations
C·dT/dt = −K·T + q·e₀ are linear and constant, so one step with the surface flux q is
T(t+Δt) = E·T(t) + p·q with E = exp(−C⁻¹K·Δt) and p its integral: no step is too long for them, and
heat is kept to rounding. The bottom is insulated.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.linalg import expm

from trackday.physics.surfaces import Layer

Array = npt.NDArray[np.float64]

FIRST_CELL_M: Final = 0.003
"""Thickness of the top cell, m. A finer grid changes the surface by less than 0.1 °C (tests)."""

GROWTH: Final = 1.3
"""Ratio of a cell's thickness to that of the cell above, –."""


@dataclass(frozen=True, eq=False)
class Grid:
    """Cells from the top down.

    `depth_m` (N,) of their nodes, `heat_jm2k` (N,) their heat capacity per area, `link_wm2k` (N−1,)
    the conductance between neighbors. The node of the top cell lies at the surface, the others in
    the middle of their cells.
    """

    depth_m: Array
    heat_jm2k: Array
    link_wm2k: Array


@dataclass(frozen=True, eq=False)
class Step:
    """The exact step of a grid.

    `decay` (N, N) multiplies rows of states from the right; `push` (N,) is K per W/m² of flux.
    """

    decay: Array
    push: Array


@lru_cache(maxsize=64)
def make_grid(layers: tuple[Layer, ...], *, refine: int = 1) -> Grid:
    """Return the grid of `layers`; `refine` cuts every cell into that many."""
    thickness, conductivity, capacity = _cells(layers, refine)
    bottom = np.cumsum(thickness)
    depth = bottom - thickness / 2.0
    above = thickness / 2.0 / conductivity
    resistance = above[:-1] + above[1:]
    # The top node carries the surface temperature itself, so its whole cell lies below it.
    depth[0] = 0.0
    resistance[0] += above[0]
    return Grid(depth, thickness * capacity, 1.0 / resistance)


@lru_cache(maxsize=64)
def make_step(layers: tuple[Layer, ...], seconds: float, *, refine: int = 1) -> Step:
    """Return the exact step of `seconds` for the grid of `layers`."""
    grid = make_grid(layers, refine=refine)
    n = len(grid.heat_jm2k)
    rates = np.zeros((n + 1, n + 1))
    for i, link in enumerate(grid.link_wm2k):
        rates[i, i] -= link
        rates[i, i + 1] += link
        rates[i + 1, i + 1] -= link
        rates[i + 1, i] += link
    rates[:n] /= grid.heat_jm2k[:, np.newaxis]
    # One more row holds the flux, which does not change within a step.
    rates[0, n] = 1.0 / grid.heat_jm2k[0]
    whole = expm(rates * seconds)
    return Step(np.ascontiguousarray(whole[:n, :n].T), np.ascontiguousarray(whole[:n, n]))


def stored_heat_jm2(temperatures_c: npt.ArrayLike, grid: Grid) -> Array:
    """Return the heat above 0 °C in columns (…, N) of cells, J/m²."""
    return np.asarray(np.asarray(temperatures_c, dtype=np.float64) @ grid.heat_jm2k)


def _cells(layers: tuple[Layer, ...], refine: int) -> tuple[Array, Array, Array]:
    """Return thickness, conductivity and heat capacity of the cells; none spans two layers."""
    thickness: list[float] = []
    conductivity: list[float] = []
    capacity: list[float] = []
    first = FIRST_CELL_M
    for layer in layers:
        count = max(1, round(np.log1p(layer.thickness_m * (GROWTH - 1.0) / first) / np.log(GROWTH)))
        sizes = GROWTH ** np.arange(count)
        sizes *= layer.thickness_m / sizes.sum()
        sizes = np.repeat(sizes / refine, refine)
        thickness += sizes.tolist()
        conductivity += [layer.conductivity_wmk] * len(sizes)
        capacity += [layer.heat_capacity_jm3k] * len(sizes)
        first = float(sizes[-1]) * refine * GROWTH
    return np.array(thickness), np.array(conductivity), np.array(capacity)
