"""The netlist file format: what each table may hold, checked by pydantic.

Everything here is plain data as written in the TOML file. How it hangs together
(nodes, element order, loose ends) is worked out in `netlist`.
"""

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field

Text = Annotated[str, Field(min_length=1)]
Name = Annotated[str, Field(pattern=r"^[A-Za-z0-9_+\-]+$")]
Positive = Annotated[float, Field(gt=0.0, allow_inf_nan=False)]
NotNegative = Annotated[float, Field(ge=0.0, allow_inf_nan=False)]
Ratio = Annotated[float, Field(gt=0.0, lt=1.2)]
Pair = tuple[Name, Name]
Wire = tuple[Text, Text, Text] | tuple[Text, Text, Text, Positive, Positive]

Acts = Literal[
    "raise",  # the control is moved to raise
    "lower",  # the control is moved to lower
    "press",  # a button is pressed (the emergency stop latches)
    "turn",  # the key is turned
    "plug",  # the plug is fitted
    "limit",  # the cam or the rope reaches the switch
    "coil",  # the contactor's coil pulls its armature in
    "drive",  # the board switches its driver on
    "isolate",  # the lockable isolator is opened
    "trip",  # the protective device opens
    "lost",  # the supply fails
]
Drive = Literal["capacitor_run", "dc"]
Suppression = Literal["none", "clamp", "rc", "diode"]
Group = Literal["control", "power", "earth"]


class Strict(BaseModel):
    """Common rules: unknown keys are errors, values never change after reading."""

    model_config = ConfigDict(extra="forbid", frozen=True)


class Contact(Strict):
    """A movable contact. `nc` is closed until acted upon, `no` is open until then."""

    name: Name
    type: Literal["nc", "no"]
    terminals: Pair
    acts: Acts
    role: Literal["aux", "main", "mirror", "driver", "protect", "supply"] = "aux"
    ohm: Positive = 0.05
    direct_opening: bool = False
    dc_rated: bool = False
    wetting_ma: NotNegative = 0.0
    signal: str = ""


class Coil(Strict):
    """Coil of a contactor or brake; ratios are of the nominal voltage.

    Times are of the bare coil in ms; suppression lengthens the release ones.
    A brake's times stay 0 here because its mechanism belongs to the site.
    """

    terminals: Pair
    nominal_v: Positive
    ohm: Positive
    pull_in: Ratio
    drop_out: Ratio
    suppression: Suppression = "none"
    operate_ms: NotNegative = 0.0
    mirror_open_ms: NotNegative = 0.0
    release_ms: NotNegative = 0.0
    mirror_close_ms: NotNegative = 0.0


class Winding(Strict):
    """A motor winding as a resistance, for the sign and share of its voltage only.

    The current a turning motor really takes is the motor model's business.
    """

    name: Name
    terminals: Pair
    ohm: Positive
    nominal_v: Positive


class Load(Strict):
    """A fixed resistance between two terminals (lamp, rectifier leg, sensor primary)."""

    name: Name
    terminals: Pair
    ohm: Positive


class Source(Strict):
    """A voltage source behind a resistance; `short_a` is where it counts as shorted.

    A control supply keeps going for `holdup_ms` after what it is fed with falls below
    `feed_min`, a ratio of the power supply's nominal voltage.
    """

    feeds: Literal["control", "power"]
    terminals: Pair
    nominal_v: Positive
    ohm: Positive
    short_a: Positive
    earthed: bool = False
    fed_by: Pair | None = None
    holdup_ms: NotNegative = 0.0
    feed_min: Ratio = 0.7


class Protection(Strict):
    """What opens a protective device at once: current, and residual current if any."""

    trip_a: Positive
    residual_ma: NotNegative = 0.0


class Input(Strict):
    """One isolated input of the board and the signal it reads."""

    terminal: Name
    signal: Name


class Board(Strict):
    """The board's isolated inputs and supply terminals."""

    supply: Pair
    load_ohm: Positive
    input_ohm: Positive
    threshold_v: Positive
    inputs: tuple[Input, ...]


class Part(Strict):
    """One device. Terminals are listed in the order in which they sit side by side.

    `internal` names nodes inside the device that no wire can reach.
    """

    ref: Name
    kind: Literal[
        "source",
        "control_supply",
        "isolator",
        "breaker",
        "fuse",
        "terminals",
        "earth",
        "stop_button",
        "hold_control",
        "push_button",
        "key_switch",
        "plug",
        "limit_switch",
        "slack_switch",
        "contactor",
        "board",
        "motor",
        "brake",
        "rectifier",
        "lamp",
        "buzzer",
        "current_sensor",
    ]
    at: Name
    text: Text
    terminals: tuple[Name, ...]
    internal: tuple[Name, ...] = ()
    contacts: tuple[Contact, ...] = ()
    loads: tuple[Load, ...] = ()
    windings: tuple[Winding, ...] = ()
    coil: Coil | None = None
    source: Source | None = None
    protection: Protection | None = None
    board: Board | None = None
    spring_return: bool = False
    interlocked_with: str = ""
    bracket: str = ""


class Location(Strict):
    """A place that holds parts. Wet places can leak between neighbouring terminals."""

    name: Name
    text: Text
    wet: bool = False


class Cable(Strict):
    """A cable between two locations; its cores are numbered from 1."""

    name: Name
    ends: Pair
    cores: Annotated[int, Field(ge=1, le=61)]
    mm2: Positive
    length_m: Positive
    group: Group
    wet: bool = False


class Panel(Strict):
    """Section and length of a wire inside a location when it states none itself."""

    length_m: Positive
    control_mm2: Positive
    power_mm2: Positive


class Wires(Strict):
    """Wires as [from terminal, to terminal, mark] with optional length_m and mm2."""

    control: tuple[Wire, ...] = ()
    power: tuple[Wire, ...] = ()
    earth: tuple[Wire, ...] = ()


class Document(Strict):
    """A whole netlist file after its includes were merged in."""

    name: Name
    title: Text
    drive: Drive
    insulation_ohm: Positive
    panel: Panel
    location: tuple[Location, ...]
    cable: tuple[Cable, ...] = ()
    part: tuple[Part, ...]
    wires: Wires


REQUIRED_KEYS: dict[str, tuple[str, ...]] = {
    "source": ("source", "contacts"),
    "control_supply": ("source", "contacts"),
    "isolator": ("contacts",),
    "breaker": ("contacts", "protection"),
    "fuse": ("contacts", "protection"),
    "stop_button": ("contacts",),
    "hold_control": ("contacts",),
    "push_button": ("contacts",),
    "key_switch": ("contacts",),
    "plug": ("contacts",),
    "limit_switch": ("contacts", "bracket"),
    "slack_switch": ("contacts",),
    "contactor": ("contacts", "coil"),
    "board": ("contacts", "board"),
    "motor": ("windings",),
    "brake": ("coil",),
    "rectifier": ("loads",),
    "lamp": ("loads",),
    "buzzer": ("loads",),
    "current_sensor": ("loads",),
}
"""Keys a part of each kind must have beside ref, kind, at, text and terminals."""
