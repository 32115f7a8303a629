"""What a site may tell besides its mechanics: ratings, sheaves, cable and what leaves are made of.

The bench needs none of it. Sizing judges with it, and says what it could not judge where a
builder left it out.
"""

from typing import Annotated, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, model_validator

from leafwinch_sim import units
from leafwinch_sim.sizing.rope_rules import ROPE_FACTORS
from leafwinch_sim.sizing.section_mass import (
    TIMBER_KG_PER_M3,
    boards_kg,
    heaviest_density,
    parse_tube,
    rectangular_tube_kg_per_m,
)
from leafwinch_sim.sizing.supply_rules import CAPACITY_A, LOCKED_ROTOR_KVA, parse_breaker


class Part(BaseModel):
    """A table of a site file: unknown keys are refused, and nothing changes afterwards."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class Tubes(Part):
    """Steel tube of one size in a frame."""

    tube: str
    length: Annotated[units.Metres, Field(gt=0, le=1000)]

    @model_validator(mode="after")
    def _check_tube(self) -> Self:
        parse_tube(self.tube)
        return self

    @property
    def mass_kg(self) -> float:
        """Mass by EN 10219-2."""
        return rectangular_tube_kg_per_m(*parse_tube(self.tube)) * self.length


class Boards(Part):
    """Boards of one kind; the species or the density says how heavy the timber is."""

    species: str | None = None
    density: Annotated[units.KilogramsPerCubicMetre, Field(gt=50, le=3000)] | None = None
    thickness: Annotated[units.Metres, Field(gt=0, le=0.5)]
    area: Annotated[units.SquareMetres, Field(gt=0, le=200)]

    @model_validator(mode="after")
    def _check_timber(self) -> Self:
        if (self.species is None) == (self.density is None):
            raise ValueError("boards need either a species or a density")
        if self.species is not None and self.species not in TIMBER_KG_PER_M3:
            known = ", ".join(TIMBER_KG_PER_M3)
            raise ValueError(f"species is {self.species!r}; known are {known}, or give a density")
        return self

    @property
    def mass_kg(self) -> float:
        """Mass of dry boards; wet ones weigh more."""
        density = self.density
        if density is None:
            density = TIMBER_KG_PER_M3[str(self.species)]
        return boards_kg(density, self.thickness, self.area)

    @property
    def heaviest_kg(self) -> float:
        """Mass of wet boards of heavy timber; of a stated density just that."""
        if self.species is None:
            return self.mass_kg
        return boards_kg(heaviest_density(self.species), self.thickness, self.area)


class Built(Part):
    """What one leaf is made of, so that its mass need not be weighed."""

    frame: tuple[Tubes, ...] = ()
    boards: tuple[Boards, ...] = ()
    fittings: Annotated[units.Kilograms, Field(ge=0, le=1000)] = 0.0

    @property
    def mass_kg(self) -> float:
        """Sum of frame, boards and fittings."""
        frame = sum(tubes.mass_kg for tubes in self.frame)
        return frame + sum(boards.mass_kg for boards in self.boards) + self.fittings

    @property
    def heaviest_kg(self) -> float:
        """The same with wet boards of heavy timber."""
        return self.mass_kg + sum(boards.heaviest_kg - boards.mass_kg for boards in self.boards)


class Nameplate(Part):
    """What the winch's plate says. The line pull is that on the first layer of rope.

    `group` is that of the hoist by FEM 9.683: it stands for duty and starts where the plate has
    none. `power` is what the motor gives off at its shaft, not what it takes in. `code_letter` is
    the letter of NEMA MG 1 for its current with the rotor locked, and needs the power.
    """

    line_pull: Annotated[units.Newtons, Field(gt=10, le=100_000)]
    current: Annotated[units.Amperes, Field(gt=0.05, le=500)] | None = None
    duty: Annotated[units.Percent, Field(gt=1, le=100)] | None = None
    starts_per_hour: Annotated[int, Field(gt=0, le=3600)] | None = None
    group: Literal["M1", "M2", "M3", "M4", "M5"] | None = None
    power: Annotated[units.Watts, Field(gt=1, le=50_000)] | None = None
    code_letter: str | None = None

    @model_validator(mode="after")
    def _check_letter(self) -> Self:
        letter = self.code_letter
        if letter is None:
            return self
        if letter not in LOCKED_ROTOR_KVA:
            raise ValueError(
                f"code_letter is {letter!r}; allowed are {', '.join(LOCKED_ROTOR_KVA)}"
            )
        if self.power is None:
            raise ValueError(f"code_letter is {letter!r}, which says nothing without power")
        return self


class Sheaves(Part):
    """Tread diameter of the smallest sheave, and how the rope comes to the drum."""

    tread: Annotated[units.Metres, Field(gt=0.005, le=1)]
    lead_between: Annotated[units.Degrees, Field(ge=0, le=180)] = 90.0
    drum_distance: Annotated[units.Metres, Field(gt=0.05, le=100)] | None = None


class Strength(Part):
    """Forces that parts bear, as their makers or whoever reckoned them state."""

    anchor: Annotated[units.Newtons, Field(gt=10)] | None = None
    hinge: Annotated[units.Newtons, Field(gt=10)] | None = None
    wheels: Annotated[units.Newtons, Field(gt=10)] | None = None
    free_end: Annotated[units.Newtons, Field(gt=10)] | None = None


class Cable(Part):
    """Supply cable from the breaker to the motor: one way length, copper, PVC."""

    length: Annotated[units.Metres, Field(gt=0, le=500)]
    area: Annotated[units.SquareMillimetres, Field(gt=0.4, le=150)]
    method: str = "B2"
    ambient: Annotated[units.Celsius, Field(ge=-40, le=60)] = 30.0
    breaker: str | None = None

    @model_validator(mode="after")
    def _check_words(self) -> Self:
        if self.method not in CAPACITY_A:
            raise ValueError(
                f"method is {self.method!r}; allowed are the reference methods "
                f"{', '.join(CAPACITY_A)}"
            )
        if self.breaker is not None:
            parse_breaker(self.breaker)
        return self


def check_construction(name: str) -> None:
    """Raise ValueError with one clause for a rope construction that is not known."""
    if name not in ROPE_FACTORS:
        raise ValueError(f"construction is {name!r}; known are {', '.join(ROPE_FACTORS)}")
