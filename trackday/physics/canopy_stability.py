"""How a weighted canopy gives way in wind: it lifts, slides or tips over, and which comes first.

Every wind force here is velocity pressure times an area, so each way of failing asks for a weight
in proportion to the pressure: an area again, m², that the formulas of `wind_load` turn into
ballast and gusts. Ballast hangs on all legs alike. The strength of legs, joints, cloth and straps
is left out, and each can fail at a lower wind; so are guy ropes and stakes, which help.

The wind blows along either side, and the worse of the two counts. Uplift acts at a quarter of the
span from the windward eaves, where EN 1991-1-4 §7.3 puts it for a single slope; for two slopes it
has the middles of the slopes, which is less: a folding canopy is neither, so the careful one holds.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, Literal

import numpy as np

from trackday.physics.wind_load import (
    BALLAST_SAFETY_FACTOR,
    Array,
    ballast_per_leg_kg,
    lift_off_gust_ms,
    uplift_coefficient,
)

Failure = Literal["lifting", "sliding", "tipping"]

CENTER_OF_PRESSURE_SHARE: Final = 0.25
"""Where the uplift acts, as a share of the span from the windward eaves, – (EN 1991-1-4, figure
7.16: d/4)."""

WALL_COEFFICIENT: Final = 1.1
"""Pressure on one side and suction on the other of an upright cloth, – (EN 1991-1-4 §7.2.2: zones
D and E of table 7.1, +0.8 and −0.5, times 0.85 as they do not peak together; values from
memory)."""

LEG_COEFFICIENT: Final = 2.0
"""Drag coefficient of a square tube over its face, – (EN 1991-1-4 §7.7, value from memory)."""

CLOTH_FRICTION: Final = 0.02
"""Friction of the wind along each face of the roof, – (EN 1991-1-4, table 7.10, rough; value from
memory)."""

VALANCE_DEPTH_M: Final = 0.25
"""Depth of the cloth that hangs from the eaves, m. Assumption."""

LEG_WIDTH_M: Final = 0.04
"""Width of a leg's tube, m. Assumption."""


@dataclass(frozen=True)
class CanopyShape:
    """What the wind finds: the sides in plan and the height of the eaves, m, the roof's pitch."""

    width_m: float
    length_m: float
    height_m: float
    legs: int
    pitch_deg: float


@dataclass(frozen=True)
class Stability:
    """Weight that each way of failing asks for, over the velocity pressure, m²."""

    lifting_m2: float
    sliding_m2: float
    tipping_m2: float

    @property
    def worst_m2(self) -> float:
        """The largest of the three, m²."""
        return max(self.lifting_m2, self.sliding_m2, self.tipping_m2)

    @property
    def governs(self) -> Failure:
        """The way of failing that asks for the most weight, at every gust alike."""
        areas: dict[Failure, float] = {
            "lifting": self.lifting_m2,
            "sliding": self.sliding_m2,
            "tipping": self.tipping_m2,
        }
        return max(areas, key=lambda failure: areas[failure])


def stability(shape: CanopyShape, *, blockage: float, friction: float) -> Stability:
    """Weigh the wind's pull on a canopy against its three ways of failing.

    `blockage` (0…1) closes the section under the roof as in `uplift_coefficient` and counts as a
    side wall of that share, fixed to the canopy; `friction` is that of the feet on the ground, –.
    Raises ValueError for a blockage outside 0…1 and a friction that is not positive.
    Source: balance of forces, and of moments about the downwind legs.
    """
    if not friction > 0.0:
        raise ValueError("friction must be positive")
    coefficient = float(uplift_coefficient(shape.pitch_deg, blockage=blockage))
    lift_m2 = coefficient * shape.width_m * shape.length_m
    along_width = _Sideways.of(shape, span_m=shape.width_m, blockage=blockage)
    along_length = _Sideways.of(shape, span_m=shape.length_m, blockage=blockage)
    both = (along_width, along_length)
    return Stability(
        lifting_m2=lift_m2,
        sliding_m2=lift_m2 + max(side.push_m2 for side in both) / friction,
        tipping_m2=max(side.tipping_m2(lift_m2) for side in both),
    )


def leg_ballast_kg(
    gust_ms: float | Array,
    *,
    holding: Stability,
    frame_kg: float,
    legs: int,
    safety_factor: float = BALLAST_SAFETY_FACTOR,
) -> Array:
    """Return the ballast each leg needs against all three ways of failing, kg; NaN stays NaN."""
    return ballast_per_leg_kg(
        gust_ms,
        area_m2=holding.worst_m2,
        coefficient=1.0,
        frame_kg=frame_kg,
        legs=legs,
        safety_factor=safety_factor,
    )


def standing_gust_ms(
    holding: Stability,
    *,
    frame_kg: float,
    ballast_total_kg: float,
    safety_factor: float = BALLAST_SAFETY_FACTOR,
) -> float:
    """Return the gust that frame and ballast stand with the safety factor on the wind, m/s."""
    bare = lift_off_gust_ms(
        area_m2=holding.worst_m2,
        coefficient=1.0,
        frame_kg=frame_kg,
        ballast_total_kg=ballast_total_kg,
    )
    return float(bare / np.sqrt(safety_factor))


@dataclass(frozen=True)
class _Sideways:
    """Wind along a span: its push over the velocity pressure, m², and that push's moment, m³."""

    span_m: float
    push_m2: float
    moment_m3: float

    @classmethod
    def of(cls, shape: CanopyShape, *, span_m: float, blockage: float) -> _Sideways:
        """Add up valances, roof friction (at the eaves), legs and wall (at half their height).

        The sideways parts of the two slopes' uplift cancel and are left out.
        """
        across_m = shape.width_m * shape.length_m / span_m
        valances_m2 = 2.0 * WALL_COEFFICIENT * VALANCE_DEPTH_M * across_m
        cloth_m2 = 2.0 * CLOTH_FRICTION * shape.width_m * shape.length_m
        legs_m2 = LEG_COEFFICIENT * LEG_WIDTH_M * shape.height_m * shape.legs
        wall_m2 = blockage * WALL_COEFFICIENT * shape.height_m * across_m
        top_m2, upright_m2 = valances_m2 + cloth_m2, legs_m2 + wall_m2
        return cls(
            span_m=span_m,
            push_m2=top_m2 + upright_m2,
            moment_m3=shape.height_m * (top_m2 + 0.5 * upright_m2),
        )

    def tipping_m2(self, lift_m2: float) -> float:
        """Weight over velocity pressure that keeps the windward legs down, m²."""
        arm_m = (1.0 - CENTER_OF_PRESSURE_SHARE) * self.span_m
        return (lift_m2 * arm_m + self.moment_m3) / (0.5 * self.span_m)
