"""What a track is made of: optical and thermal properties of pavements, with their sources."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final


@dataclass(frozen=True)
class Layer:
    """One homogeneous layer.

    `thickness_m` in m, `conductivity_wmk` in W/(m·K), `heat_capacity_jm3k` per volume in J/(m³·K).
    """

    thickness_m: float
    conductivity_wmk: float
    heat_capacity_jm3k: float

    def __post_init__(self) -> None:
        """Refuse values that no material has."""
        if min(self.thickness_m, self.conductivity_wmk, self.heat_capacity_jm3k) <= 0.0:
            raise ValueError("thickness, conductivity and heat capacity must be above zero")


ASPHALT: Final = Layer(0.15, 1.4, 2.0e6)
"""Asphalt concrete, 15 cm (common practice for a circuit: 4 cm course on binder and base courses).
Conductivity: the geometric mean, rounded, of the .8 W/(m·K) that road-weather models assume and the
2.2 that lab cores have on average (1.0–3.0); heat capacity: 1.94–2.10 MJ/(m³·K) in road-weather
models."""

CONCRETE: Final = Layer(0.25, 2.2, 2.1e6)
"""Cement concrete slab. Conductivity as in road-weather models; 25 cm is common practice."""

BASE: Final = Layer(0.35, 0.95, 1.6e6)
"""Gravel base. Conductivity as in road-weather models; heat capacity of dry crushed stone from
1700 kg/m³ and 920 J/(kg·K), value from memory; 35 cm is common practice."""

SOIL: Final = Layer(9.5, 2.0, 2.0e6)
"""Ground of unknown kind (EN ISO 13370, default values). Its depth lets the yearly wave die out
above the insulated bottom: the damping depth of the year is 3.2 m."""


@dataclass(frozen=True)
class Surface:
    """One kind of track surface.

    `albedo` of the dry surface to sunshine and `emissivity` to heat, both 0…1. `layers` from the
    top down, with an insulated bottom. `texture_mm` is the mean depth of water, mm, from which all
    of the surface is wet: with less, the tops of the texture stand out dry.
    """

    albedo: float = 0.12
    emissivity: float = 0.94
    layers: tuple[Layer, ...] = (ASPHALT, BASE, SOIL)
    texture_mm: float = 0.15

    def __post_init__(self) -> None:
        """Refuse values outside the possible."""
        object.__setattr__(self, "layers", tuple(self.layers))
        if not 0.0 <= self.albedo < 1.0:
            raise ValueError("albedo must be at least 0 and below 1")
        if not 0.0 < self.emissivity <= 1.0:
            raise ValueError("emissivity must be above 0 and at most 1")
        if not self.layers:
            raise ValueError("a surface needs at least one layer")
        if not self.texture_mm > 0.0:
            raise ValueError("texture_mm must be above zero")

    @property
    def wet_albedo(self) -> float:
        """Albedo under a closed film of water, which traps light by total reflection inside.

        Source: Ångström 1925 with the refractive index 1.33 of water, value from memory.
        """
        return self.albedo / (_WATER_INDEX**2 * (1.0 - self.albedo) + self.albedo)


_WATER_INDEX: Final = 1.33
"""Refractive index of water for visible light, –."""

SURFACES: Final[dict[str, Surface]] = {
    "asphalt_new": Surface(albedo=0.07),
    "asphalt_aged": Surface(albedo=0.14),
    "concrete": Surface(albedo=0.28, emissivity=0.92, layers=(CONCRETE, BASE, SOIL)),
    "sealed": Surface(albedo=0.06, texture_mm=0.08),
}
"""Named surfaces. Albedo of asphalt .05–.10 new and .10–.20 aged, emissivity .92–.95 as in
road-weather models; concrete .25–.35 (value from memory); a fresh black seal as new asphalt, at the
dark end, with half the texture (assumption). `texture_mm` of asphalt: fitted by this project on the
wet and dry hours of July to September 2010 of the measured street, and kept for concrete."""


def named_surface(surface: str | Surface) -> Surface:
    """Return the surface itself or the one of that name; ValueError lists the names there are."""
    if isinstance(surface, Surface):
        return surface
    if surface not in SURFACES:
        raise ValueError(f"surface {surface!r} is not one of {', '.join(sorted(SURFACES))}")
    return SURFACES[surface]
