"""Forcings by their members and steps: some of them, or those of several sites in one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import numpy.typing as npt

from trackday.physics.forcing import Forcing


def side_by_side(forcings: Sequence[Forcing]) -> Forcing:
    """Put the members of some forcings of one clock into one, one forcing's after another's."""
    first = forcings[0]
    if len(forcings) == 1:
        return first
    joined: dict[str, Any] = {
        name: np.concatenate([getattr(each, name) for each in forcings], axis=1)
        for name, value in vars(first).items()
        if isinstance(value, np.ndarray) and value.ndim == 2
    }
    members = first.air_temp_c.shape[1]
    shares = np.concatenate([np.broadcast_to(each.open_share, members) for each in forcings])
    return replace(first, open_share=shares, **joined)


def members_of(forcing: Forcing, members: npt.NDArray[np.int64]) -> Forcing:
    """Return a copy of the forcing of some members only."""
    picked: dict[str, Any] = {
        name: np.take(value, members, axis=1)
        for name, value in vars(forcing).items()
        if isinstance(value, np.ndarray) and value.ndim == 2
    }
    share = forcing.open_share
    return replace(
        forcing, open_share=share if isinstance(share, float) else share[members], **picked
    )


def steps_of(forcing: Forcing, steps: slice) -> Forcing:
    """Return the forcing of some steps only; the arrays are views."""
    picked: dict[str, Any] = {
        name: value[steps]
        for name, value in vars(forcing).items()
        if isinstance(value, np.ndarray) and name != "open_share"
    }
    return replace(forcing, **picked)
