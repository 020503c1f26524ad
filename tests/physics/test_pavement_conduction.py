"""Conduction against analytic solutions, and its grid."""

from __future__ import annotations

import numpy as np
import pytest

from trackday.physics.conduction import make_grid, make_step, stored_heat_jm2
from trackday.physics.surfaces import ASPHALT, BASE, SOIL, Layer

DAY_S = 86400.0
SLAB = Layer(3.0, 1.4, 2.0e6)


def test_daily_wave_is_that_of_carslaw_and_jaeger() -> None:
    """Protects amplitude and lag of the daily wave at the surface and at depth, within 1 %.

    Source: Carslaw & Jaeger 1959, §2.6, semi-infinite solid with the flux q·cos(ωt) at its face.
    """
    seconds, days = 300.0, 12
    step = make_step((SLAB,), seconds, refine=2)
    grid = make_grid((SLAB,), refine=2)
    omega = 2.0 * np.pi / DAY_S
    times = np.arange(1, int(days * DAY_S / seconds) + 1) * seconds
    temps = np.zeros((1, len(grid.depth_m)))
    kept = []
    for end in times:
        flux = 200.0 * np.cos(omega * (end - seconds / 2.0))
        temps = temps @ step.decay + flux * step.push
        kept.append(temps[0])
    last = np.array(kept)[-int(DAY_S / seconds) :]
    clock = times[-len(last) :]
    damping = np.sqrt(2.0 * SLAB.conductivity_wmk / SLAB.heat_capacity_jm3k / omega)
    effusivity = np.sqrt(SLAB.conductivity_wmk * SLAB.heat_capacity_jm3k)
    amplitude = 200.0 / (effusivity * np.sqrt(omega))
    for node in (0, 10, 14):
        lag = grid.depth_m[node] / damping
        exact = amplitude * np.exp(-lag) * np.cos(omega * clock - np.pi / 4.0 - lag)
        # The mean drifts for weeks in so deep a slab; the wave does not.
        wave = last[:, node] - last[:, node].mean()
        assert np.abs(wave - exact).max() < 0.01 * amplitude


def test_constant_flux_warms_as_the_square_root_of_time() -> None:
    """Protects the step response from a cold start, at a surface step of any length.

    Source: Carslaw & Jaeger 1959, §2.9: T = 2q/√(kC)·√(t/π).
    """
    for seconds in (60.0, 900.0, 3600.0):
        step = make_step((SLAB,), seconds)
        temps = np.zeros((1, len(step.push)))
        for _ in range(round(7200.0 / seconds)):
            temps = temps @ step.decay + 100.0 * step.push
        exact = 200.0 / np.sqrt(1.4 * 2.0e6) * np.sqrt(7200.0 / np.pi)
        assert temps[0, 0] == pytest.approx(exact, rel=0.01)


def test_steady_flux_through_layers_follows_their_resistance() -> None:
    """Protects the conductances across layer borders: the difference is flux times resistance."""
    layers = (ASPHALT, BASE, Layer(1.0, 2.0, 2.0e6))
    grid = make_grid(layers)
    step = make_step(layers, 1e6)
    temps = np.zeros((1, len(step.push)))
    for _ in range(40):
        temps = temps @ step.decay + 50.0 * step.push
    # An insulated column under steady flux warms evenly; the flux falls with the heat above.
    heat = np.concatenate([[0.0], np.cumsum(grid.heat_jm2k)[:-1]])
    flux = 50.0 * (1.0 - heat / grid.heat_jm2k.sum())
    drop = np.sum(flux[1:] / grid.link_wm2k)
    assert temps[0, 0] - temps[0, -1] == pytest.approx(drop, rel=1e-4)
    resistance = sum(layer.thickness_m / layer.conductivity_wmk for layer in layers)
    below = (1.5 - grid.depth_m[-1]) / layers[-1].conductivity_wmk
    assert np.sum(1.0 / grid.link_wm2k) + below == pytest.approx(resistance)


def test_no_heat_is_lost_or_made() -> None:
    """Protects that the column holds exactly what came in, for any step and layers."""
    layers = (ASPHALT, BASE, SOIL)
    grid = make_grid(layers)
    rng = np.random.default_rng(1)
    temps = rng.normal(15.0, 5.0, (3, len(grid.heat_jm2k)))
    before = stored_heat_jm2(temps, grid)
    flux = rng.normal(0.0, 200.0, (400, 3))
    step = make_step(layers, 300.0)
    for row in flux:
        temps = temps @ step.decay + row[:, np.newaxis] * step.push
    gained = stored_heat_jm2(temps, grid) - before
    assert gained == pytest.approx(flux.sum(axis=0) * 300.0, rel=1e-6, abs=1.0)


def test_grid_fills_the_layers_and_no_cell_spans_two() -> None:
    """Protects that thickness and heat capacity of every layer are those given."""
    layers = (ASPHALT, BASE, SOIL)
    for refine in (1, 3):
        grid = make_grid(layers, refine=refine)
        total = sum(layer.thickness_m * layer.heat_capacity_jm3k for layer in layers)
        assert grid.heat_jm2k.sum() == pytest.approx(total)
        assert np.all(np.diff(grid.depth_m) > 0.0)
        assert grid.depth_m[0] == 0.0


def test_impossible_layers_are_refused() -> None:
    """Protects against absurd materials."""
    with pytest.raises(ValueError, match="above zero"):
        Layer(0.1, -1.0, 2.0e6)
