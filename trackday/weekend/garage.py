"""A garage: the car, its tires and pressures, and what goes along on the trailer."""

from __future__ import annotations

from collections import Counter
from datetime import time
from typing import Annotated, Literal, Self

from pydantic import AfterValidator, Field, ValidationInfo, field_validator, model_validator

from trackday.units import US, parse_quantity
from trackday.weekend.fields import (
    AirTempC,
    BallastKg,
    CanopySideM,
    Elevation,
    FileModel,
    FilmMm,
    Flag,
    FrameMassKg,
    Note,
    Number,
    PressureKpa,
    PressureStepKpa,
    Text,
    TrackTempC,
    TrailerLengthM,
    WarmedTempC,
    Whole,
    WindLimitMs,
    relative_path,
)
from trackday.weekend.localtime import ClockTime

HALF_PSI_KPA = parse_quantity("0.5 psi", "pressure")
"""Step of a usual dial gauge (common practice)."""

TireKind = Literal["dry", "wet"]
TireCondition = Literal["new", "scrubbed", "used", "worn"]
FillGas = Literal["nitrogen", "dried air", "air"]
Minutes = Annotated[Number, Field(ge=0.0, le=1440.0)]
# More than a lap time and a half lost on the wrong tire is a slip of the pen (assumption).
LapTimePercent = Annotated[Number, Field(ge=0.0, le=150.0)]


class Car(FileModel):
    """The one car."""

    name: Text = Field(examples=["the red one"])
    cockpit: Literal["open", "closed"] = Field(examples=["closed"])
    demister: Flag = False
    naturally_aspirated: Flag = True
    """Whether the engine breathes without a charger: only then is its loss of power estimated."""


class TireSet(FileModel):
    """A set of tires."""

    name: Text = Field(examples=["Dry A"])
    kind: TireKind = Field(examples=["dry"])
    count: Annotated[Whole, Field(ge=1, le=40)] = 4
    condition: TireCondition = "used"
    may_be_grooved: Flag = False
    """Whether the racer is willing to cut rain grooves into this dry set."""
    grooved: Flag = False
    """Whether rain grooves have been cut into this dry set already."""
    on_rims: Flag = True

    @field_validator("may_be_grooved", "grooved")
    @classmethod
    def _only_dry_sets_are_grooved(cls, value: bool, info: ValidationInfo) -> bool:
        """Refuse to groove a wet tire."""
        if value and info.data.get("kind") == "wet":
            raise ValueError("a wet set has its grooves already; write false or leave it out")
        return value


class Axles(FileModel):
    """Gauge pressures of the front and the rear tires, kPa."""

    front: PressureKpa = Field(examples=["30 psi"])
    rear: PressureKpa = Field(examples=["30 psi"])


class LastGood(FileModel):
    """The last cold setting that came out right, and the conditions it was made for."""

    cold_kpa: Axles = Field(alias="cold", examples=[{"front": "24 psi", "rear": "24 psi"}])
    hot_kpa: Axles | None = Field(default=None, alias="hot")
    """Hot pressures it gave; None where it gave the target."""
    track_temp_c: TrackTempC = Field(alias="track", examples=["105 °F"])
    air_temp_c: AirTempC = Field(alias="air", examples=["80 °F"])
    elevation_m: Elevation | None = None
    """Elevation of the circuit where it was measured, m; None for the venue's own."""
    note: Note = ""

    @field_validator("hot_kpa")
    @classmethod
    def _hot_above_cold(cls, hot: Axles | None, info: ValidationInfo) -> Axles | None:
        """Refuse a tire that loses pressure as it warms."""
        _refuse_cold_above_hot(cold=info.data.get("cold_kpa"), hot=hot, hot_name="hot")
        return hot


class PressureSettings(FileModel):
    """Pressures to aim for and how they are set. All are gauge pressures, kPa."""

    target_hot_kpa: Axles = Field(
        alias="target_hot", examples=[{"front": "30 psi", "rear": "30 psi"}]
    )
    wet_target_hot_kpa: Axles | None = Field(default=None, alias="wet_target_hot")
    """Target on wet tires; None for the same as on dry ones."""
    fill_gas: FillGas = Field(examples=["air"])
    gauge_elevation_m: Elevation | None = None
    """Elevation where cold pressures are set, m; None for the venue's own."""
    gauge_step_kpa: PressureStepKpa = Field(default=HALF_PSI_KPA, alias="gauge_step")
    """Finest step that the gauge can be set to."""
    warmed_to_c: WarmedTempC | None = Field(default=None, alias="warmed_to")
    """Temperature of warmed tires when their pressures are set; None where none are warmed."""
    last_good: LastGood | None = None

    @field_validator("last_good")
    @classmethod
    def _target_above_cold(cls, last: LastGood | None, info: ValidationInfo) -> LastGood | None:
        """Compare with the target where the pair counts as having met the target."""
        if last is not None and last.hot_kpa is None:
            _refuse_cold_above_hot(
                cold=last.cold_kpa, hot=info.data.get("target_hot_kpa"), hot_name="target_hot"
            )
        return last


def _refuse_cold_above_hot(*, cold: Axles | None, hot: Axles | None, hot_name: str) -> None:
    """Raise ValueError where an axle's cold pressure is not below its hot one."""
    if cold is None or hot is None:
        return
    for axle in ("front", "rear"):
        cold_kpa, hot_kpa = getattr(cold, axle), getattr(hot, axle)
        if cold_kpa >= hot_kpa:
            raise ValueError(
                f"{axle} cold {US.pressure(cold_kpa)} is not below {hot_name} "
                f"{US.pressure(hot_kpa)}; mend the one that is wrong"
            )


class Canopy(FileModel):
    """The canopy and what holds it down."""

    width_m: CanopySideM = Field(alias="width", examples=["10 ft"])
    length_m: CanopySideM = Field(alias="length", examples=["10 ft"])
    frame_weight_kg: FrameMassKg = Field(alias="frame_weight", examples=["50 lb"])
    height_m: CanopySideM = Field(default=2.2, alias="height")
    """Height of the eaves (assumption: a usual folding canopy stands at 7 ft)."""
    legs: Annotated[Whole, Field(ge=2, le=16)] = 4
    ballast_per_leg_kg: BallastKg = Field(alias="ballast_per_leg", examples=["40 lb"])
    wind_limit_ms: WindLimitMs | None = Field(default=None, alias="wind_limit")
    """The maker's limit, if there is one."""
    blocked: Flag = False
    """Whether side walls or a parked car keep the wind from blowing through."""


class Trailer(FileModel):
    """The trailer."""

    tire_slots: Annotated[Whole, Field(ge=0, le=60)] = Field(examples=[8])
    """Wheels and tires it takes beside those on the car."""
    length_m: TrailerLengthM = Field(alias="length", examples=["20 ft"])
    crosswind_limit_ms: WindLimitMs | None = Field(default=None, alias="crosswind_limit")
    """Gust at which the racer does not want to tow."""


class Generator(FileModel):
    """The generator."""

    name: Text = Field(examples=["the small one"])
    tank_hours: Annotated[Number, Field(gt=0.0, le=200.0)] | None = Field(
        default=None, examples=[6.0]
    )


class Crew(FileModel):
    """Who comes along."""

    people: Annotated[Whole, Field(ge=1, le=30)] = 1
    """Everybody in the paddock, the driver included."""


class CostRow(FileModel):
    """What one kind of tire loses on each kind of track, percent of the lap time."""

    dry: LapTimePercent = Field(examples=[0.0])
    damp: LapTimePercent = Field(examples=[5.0])
    wet: LapTimePercent = Field(examples=[20.0])
    standing: LapTimePercent = Field(examples=[60.0])


class CostTable(FileModel):
    """The racer's own estimate of what the wrong tire costs, percent of lap time."""

    dry: CostRow = Field(examples=[{"dry": 0.0, "damp": 5.0, "wet": 20.0, "standing": 60.0}])
    grooved: CostRow = Field(examples=[{"dry": 2.0, "damp": 1.0, "wet": 8.0, "standing": 30.0}])
    wet: CostRow = Field(examples=[{"dry": 6.0, "damp": 2.0, "wet": 0.0, "standing": 5.0}])
    cutting: LapTimePercent = 2.0
    """What it is worth, beside that, not to cut up a dry set (assumption)."""


class FilmLimits(FileModel):
    """Depths of water from which the racer calls a track damp, wet, and standing in water, mm.

    Damp is dark without spray, wet throws spray, standing water lies above the texture. The damp
    limit is where the surface model's film agrees best with a wetness sensor in a street (fitted by
    this project on July to September 2010, docs/track-model.md); the other two are assumptions.
    """

    damp_mm: FilmMm = Field(default=0.05, alias="damp")
    wet_mm: FilmMm = Field(default=0.15, alias="wet")
    standing_mm: FilmMm = Field(default=1.0, alias="standing")

    @model_validator(mode="after")
    def _rising(self) -> Self:
        """Refuse limits that would leave a state without a depth of its own."""
        if not self.damp_mm < self.wet_mm < self.standing_mm:
            raise ValueError(
                "damp, wet and standing do not rise; write damp below wet below standing"
            )
        return self


class Work(FileModel):
    """How long jobs take alone (assumptions, to be replaced by the racer's own times)."""

    swap_minutes: Minutes = 20.0
    """Change four wheels."""
    mount_minutes: Minutes = 90.0
    """Take four tires off their rims and mount four others."""
    groove_minutes_per_tire: Minutes = 15.0
    grid_minutes: Minutes = 10.0
    """Time before a session at which the car has to stand ready."""
    usual_finish: ClockTime = time(21, 0)
    """When work on the car usually ends, in the venue's local time."""


class Garage(FileModel):
    """Everything the racer owns that a decision is about, from garage.toml."""

    car: Car = Field(examples=[{"name": "the red one", "cockpit": "closed"}])
    tires: Annotated[tuple[TireSet, ...], Field(min_length=1)] = Field(
        examples=[[{"name": "Dry A", "kind": "dry"}]]
    )
    pressure: PressureSettings = Field(
        examples=[{"target_hot": {"front": "30 psi", "rear": "30 psi"}, "fill_gas": "air"}]
    )
    canopy: Canopy | None = None
    trailer: Trailer | None = None
    generator: Generator | None = None
    cost: CostTable | None = None
    film: FilmLimits = FilmLimits()
    work: Work = Work()
    crew: Crew = Crew()
    load_list: Annotated[Text, AfterValidator(relative_path)] | None = Field(
        default=None, examples=["load.csv"]
    )
    """The racer's own list of what to load (CSV or TOML), relative to garage.toml."""

    @field_validator("tires")
    @classmethod
    def _names_differ(cls, sets: tuple[TireSet, ...]) -> tuple[TireSet, ...]:
        """Refuse two sets that advice could not tell apart."""
        name, count = Counter(tire_set.name.casefold() for tire_set in sets).most_common(1)[0]
        if count > 1:
            shown = next(s.name for s in sets if s.name.casefold() == name)
            raise ValueError(f"{count} sets are called {shown!r}; give each its own name")
        return sets
