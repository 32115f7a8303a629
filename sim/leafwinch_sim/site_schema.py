"""Schema of `site.toml`: one installation, read with units and checked as a whole."""

import math
import re
from typing import Annotated, Literal, Self

from pydantic import Field, PrivateAttr, ValidationError, model_validator

from leafwinch.settings_schema import check_converter, settings_from
from leafwinch_sim import units
from leafwinch_sim.site_ratings import (
    Built,
    Cable,
    Nameplate,
    Part,
    Sheaves,
    Strength,
    check_construction,
)
from leafwinch_sim.switches import snap_action

SENSED_UNITS = {"leaf_angle": "deg", "drum_turns": "turn", "rope_slack": "mm"}
"""What a limit can sense, and the unit of its number."""


class Leaf(Part):
    """One leaf: length between hinge centres, mass, centre of mass from its inner hinge.

    The mass may be left out where `built` says what the leaf is made of.
    """

    built: Built | None = None
    length: Annotated[units.Metres, Field(gt=0.1, le=6)]
    mass: Annotated[units.Kilograms, Field(gt=0.1, le=2000)]
    centre: Annotated[units.Metres, Field(gt=0)]

    @model_validator(mode="before")
    @classmethod
    def _weigh(cls, data: object) -> object:
        if not isinstance(data, dict) or "mass" in data or "built" not in data:
            return data
        try:
            built = Built.model_validate(data["built"])
        except ValidationError:
            return data  # the field's own check tells what is wrong, and where
        return {**data, "mass": f"{built.mass_kg:.3f} kg"}


class Deck(Part):
    """The two leaves, hinges and wheels."""

    width: Annotated[units.Metres, Field(gt=0.1, le=10)]
    leaf_a: Leaf
    leaf_b: Leaf
    end_mass: Annotated[units.Kilograms, Field(ge=0, le=500)]
    hinge_pin_radius: Annotated[units.Metres, Field(ge=0, le=0.2)]
    hinge_friction: Annotated[float, Field(ge=0, le=1)]
    wheel_resistance: Annotated[float, Field(ge=0, le=1)]
    kicker_depth: Annotated[units.Metres, Field(ge=0, le=2)]


class Buffer(Part):
    """Buffer that the free end meets near the wall, and the wall behind it."""

    place: Annotated[units.Degrees, Field(gt=0, lt=90)]
    stiffness: Annotated[units.NewtonsPerMetre, Field(gt=0)]
    damping: Annotated[units.NewtonSecondsPerMetre, Field(ge=0)]
    rated_force: Annotated[units.Newtons, Field(gt=0)]
    wall: Annotated[units.Degrees, Field(gt=0, lt=90)]


class Rope(Part):
    """Rope and purchase; the purchase is always two parts.

    `end_strength` is what its end fittings leave of the breaking force.
    """

    diameter: Annotated[units.Metres, Field(gt=0.0005, le=0.05)]
    stiffness: Annotated[units.Newtons, Field(gt=1000)]
    damping: Annotated[units.NewtonSecondsPerMetre, Field(ge=0)]
    breaking_force: Annotated[units.Newtons, Field(gt=0)]
    lead: Annotated[units.Metres, Field(gt=0.05, le=100)]
    sheave_factor: Annotated[float, Field(ge=1, le=1.5)]
    lead_sheaves: Annotated[int, Field(ge=0, le=10)]
    construction: str | None = None
    grade: Annotated[units.NewtonsPerSquareMillimetre, Field(ge=1000, le=2600)] = 1770.0
    end_strength: Annotated[float, Field(gt=0.2, le=1)] = 0.8

    @model_validator(mode="after")
    def _check_rope(self) -> Self:
        if self.construction is not None:
            check_construction(self.construction)
        return self


class Drum(Part):
    """Rope drum; turns count from the bare drum."""

    core_radius: Annotated[units.Metres, Field(gt=0.002, le=1)]
    turns_per_layer: Annotated[float, Field(gt=0.5, le=200)]
    turns_at_flat: Annotated[units.Turns, Field(gt=0)]
    dead_wraps: Annotated[units.Turns, Field(ge=0)]
    inertia: Annotated[units.KilogramSquareMetres, Field(gt=0)]
    drag: Annotated[units.NewtonMetres, Field(ge=0)]
    flange_radius: Annotated[units.Metres, Field(gt=0.002, le=2)] | None = None


class Gear(Part):
    """Reduction gear; `back_efficiency` of 0 or less holds the load without a brake."""

    ratio: Annotated[float, Field(gt=1, le=5000)]
    efficiency: Annotated[float, Field(gt=0, le=1)]
    back_efficiency: Annotated[float, Field(ge=-1, le=1)]
    holds_one_direction: bool


class Brake(Part):
    """Spring-applied brake at the motor shaft."""

    torque: Annotated[units.NewtonMetres, Field(gt=0)]
    release_delay: Annotated[units.Milliseconds, Field(ge=0, le=2000)]
    set_delay: Annotated[units.Milliseconds, Field(ge=0, le=2000)]
    wrong_way_torque: Annotated[units.NewtonMetres, Field(ge=0)]


class CapacitorRun(Part):
    """Two-winding motor with a run capacitor; circuit values at mains frequency."""

    kind: Literal["capacitor-run"]
    poles: Literal[2, 4, 6, 8]
    main: Annotated[units.Ohms, Field(gt=0)]
    main_leakage: Annotated[units.Ohms, Field(gt=0)]
    aux: Annotated[units.Ohms, Field(gt=0)]
    aux_leakage: Annotated[units.Ohms, Field(gt=0)]
    rotor: Annotated[units.Ohms, Field(gt=0)]
    rotor_leakage: Annotated[units.Ohms, Field(gt=0)]
    magnetising: Annotated[units.Ohms, Field(gt=0)]
    turns_ratio: Annotated[float, Field(gt=0.1, le=10)]
    capacitor: Annotated[units.Farads, Field(gt=0)]
    inertia: Annotated[units.KilogramSquareMetres, Field(gt=0)]
    drag: Annotated[units.NewtonMetres, Field(ge=0)]


class PermanentMagnet(Part):
    """Permanent-magnet direct-current motor."""

    kind: Literal["permanent-magnet"]
    resistance: Annotated[units.Ohms, Field(gt=0)]
    inductance: Annotated[units.Henries, Field(gt=0)]
    constant: Annotated[units.VoltSecondsPerRadian, Field(gt=0)]
    inertia: Annotated[units.KilogramSquareMetres, Field(gt=0)]
    drag: Annotated[units.NewtonMetres, Field(ge=0)]


class Supply(Part):
    """Supply of the motor; frequency 0 Hz for direct current.

    `source_resistance` is that of the mains or battery and of the cable together.
    """

    voltage: Annotated[units.Volts, Field(gt=1, le=1000)]
    frequency: Annotated[units.Hertz, Field(ge=0, le=65)]
    source_resistance: Annotated[units.Ohms, Field(ge=0, le=10)]
    cable: Cable | None = None


class Loads(Part):
    """Loads that are not the deck's own, used by defects."""

    people: Annotated[units.Kilograms, Field(gt=0, le=1000)]
    gust_pressure: Annotated[units.Pascals, Field(gt=0, le=2000)]


class Limit(Part):
    """One limit switch: what it senses, where it operates, where it lets go again."""

    part: Literal["BG1", "BG2", "BG3", "BG4", "BG5"]
    senses: Literal["leaf_angle", "drum_turns", "rope_slack"]
    operates: Literal["above", "below"]
    at: float
    reset_differential: Annotated[float, Field(gt=0)]

    @model_validator(mode="before")
    @classmethod
    def _read_units(cls, data: object) -> object:
        if not isinstance(data, dict):
            return data
        unit = SENSED_UNITS.get(str(data.get("senses")))
        read = dict(data)
        for key in ("at", "reset_differential"):
            if unit is not None and key in read:
                try:
                    read[key] = units.parse_quantity(read[key], unit)
                except ValueError as error:
                    raise ValueError(f"key '{key}': {error}") from None
        return read

    @model_validator(mode="after")
    def _check_angle(self) -> Self:
        if self.senses == "leaf_angle" and not 0 < self.at < 90:
            raise ValueError(
                f"at is {self.at:g} degrees, but allowed is more than 0 to less than 90"
            )
        return self

    def is_actuated(self, sensed: float, before: bool) -> bool:
        """Return whether the switch is actuated, given whether it was before.

        `sensed` is in the unit of `at`. Between operating and reset point the switch
        stays as it was, which is what snap action does.
        """
        past = sensed - self.at if self.operates == "above" else self.at - sensed
        return snap_action(past, self.reset_differential, before)


class Limits(Part):
    """The four limits and the slack-rope switch, which a site may not have."""

    top_end: Limit
    bottom_end: Limit
    top_final: Limit
    bottom_final: Limit
    slack_rope: Limit | None = None


class Allowed(Part):
    """What the site accepts at its ends."""

    bottom_slack: Annotated[units.Metres, Field(gt=0, le=2)]


class Site(Part):
    """One installation. Lengths in m, angles in degrees, other numbers in SI units."""

    name: str
    summary: str
    over: Literal["pit", "stair", "water"]
    wiring: str
    board: Literal["pico", "esp32"]
    deck: Deck
    buffer: Buffer
    rope: Rope
    drum: Drum
    gear: Gear
    brake: Brake
    motor: Annotated[CapacitorRun | PermanentMagnet, Field(discriminator="kind")]
    supply: Supply
    loads: Loads
    allowed: Allowed
    limits: Limits
    nameplate: Nameplate | None = None
    sheaves: Sheaves | None = None
    strength: Strength = Field(default_factory=Strength)
    settings: dict[str, Annotated[int, Field(strict=True)]] = Field(default_factory=dict)
    _options: str = PrivateAttr("")

    @property
    def options(self) -> str:
        """The command line options that name this site and its settings."""
        return self._options or f"--site {self.name}"

    def called(self, options: str) -> "Site":
        """Return the same site, named by other command line options."""
        site = self.model_copy()
        site._options = options
        return site

    def with_settings(self, settings: dict[str, int], options: str = "") -> "Site":
        """Return the site with these settings instead of its own.

        Args:
            settings: by name, checked against the schema of the firmware.
            options: the command line option that names them, for the lines that repeat a run.

        Raises:
            ValueError: one sentence for a setting that is unknown or out of its range.
        """
        check_converter(settings_from(settings))
        site = self.model_copy(update={"settings": dict(settings)})
        return site.called(f"{self.options} {options}") if options else site

    @model_validator(mode="after")
    def _check_whole(self) -> Self:
        if re.fullmatch(r"[a-z0-9][a-z0-9-]{0,39}", self.name) is None:
            raise ValueError(
                f"name is {self.name!r}; allowed are 1 to 40 small letters, digits and hyphens"
            )
        self._check_geometry()
        self._check_drive()
        self._check_limits()
        check_converter(settings_from(self.settings))
        return self

    def _check_geometry(self) -> None:
        deck = self.deck
        for key, leaf in (("leaf_a", deck.leaf_a), ("leaf_b", deck.leaf_b)):
            if leaf.centre >= leaf.length:
                raise ValueError(
                    f"deck.{key}.centre is {leaf.centre:g} m, but it must be less than the "
                    f"leaf's length of {leaf.length:g} m"
                )
        reach = math.degrees(math.asin(min(1.0, deck.leaf_b.length / deck.leaf_a.length)))
        if self.buffer.wall >= reach:
            raise ValueError(
                f"buffer.wall is {self.buffer.wall:g} degrees, but these leaves fold to less "
                f"than {reach:.1f} degrees"
            )
        if self.buffer.place >= self.buffer.wall:
            raise ValueError(
                f"buffer.place is {self.buffer.place:g} degrees, but it must be less than "
                f"buffer.wall, {self.buffer.wall:g} degrees"
            )
        if deck.kicker_depth >= deck.leaf_a.length:
            raise ValueError(
                f"deck.kicker_depth is {deck.kicker_depth:g} m, but it must be less than the "
                f"length of leaf A, {deck.leaf_a.length:g} m"
            )

    def _check_drive(self) -> None:
        if self.drum.turns_at_flat < self.drum.dead_wraps:
            raise ValueError(
                f"drum.turns_at_flat is {self.drum.turns_at_flat:g} turns, but at least the dead "
                f"wraps, {self.drum.dead_wraps:g} turns, must stay on the drum"
            )
        alternating = self.motor.kind == "capacitor-run"
        frequency = self.supply.frequency
        if alternating and not 45 <= frequency <= 65:
            raise ValueError(
                f"supply.frequency is {frequency:g} Hz, but a capacitor-run motor needs 45 to 65 Hz"
            )
        if not alternating and frequency != 0:
            raise ValueError(
                f"supply.frequency is {frequency:g} Hz, but a permanent-magnet motor needs 0 Hz"
            )

    def _check_limits(self) -> None:
        limits = self.limits
        parts = {
            "top_end": (limits.top_end, "BG1"),
            "bottom_end": (limits.bottom_end, "BG2"),
            "top_final": (limits.top_final, "BG3"),
            "bottom_final": (limits.bottom_final, "BG4"),
            "slack_rope": (limits.slack_rope, "BG5"),
        }
        for key, (limit, part) in parts.items():
            if limit is not None and limit.part != part:
                raise ValueError(f"limits.{key}.part is {limit.part!r}, but it must be {part!r}")
        if limits.bottom_final.senses == "leaf_angle":
            raise ValueError(
                "limits.bottom_final.senses is 'leaf_angle', but a flat deck cannot show rope "
                "that is still paid out; allowed are 'drum_turns' and 'rope_slack'"
            )
        for end, final in ((limits.top_end, limits.top_final),):
            if end.senses == final.senses and final.at <= end.at:
                raise ValueError(
                    f"limits.top_final.at is {final.at:g}, but it must lie beyond "
                    f"limits.top_end.at, {end.at:g}"
                )
