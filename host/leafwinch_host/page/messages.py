"""Every message that a page may send, and nothing else: strict, small, one sentence if refused.

Text frames of JSON, each an object whose `do` says what is meant:

    {"do": "hold", "way": "raise", "beat": 7}    every 50 ms while the control is held
    {"do": "release"}                            the control was let go
    {"do": "press", "what": "stop"}              and {"do": "let_go", "what": "stop"}
    {"do": "press", "what": "key", "beat": 7}    every 50 ms while the recovery key is held
    {"do": "defect", "id": "BG1:21-22_dead", "when": "now"}
    {"do": "mend", "id": "all"}

`press` of `power` switches the motor's and the control's supply off at the isolator, `let_go`
switches it on again; `link` fits the service link; a limit is pushed by hand. `when` is `now`,
`raise` or `lower` (the next time the motor is fed that way) or `at:12.5` (bench time in s).
"""

from typing import Annotated, Literal

from pydantic import BaseModel, ConfigDict, Field, TypeAdapter, ValidationError

from leafwinch_wiring.errors import BadInput

MAX_BYTES = 65_536
"""Longest message; one that is longer ends the connection."""

MAX_TEXT = 50_000
"""Longest scenario or script, in characters."""

SPEED_MIN = 0.05
SPEED_MAX = 1000.0
AS_FAST = "max"
BACK_MAX_S = 300.0

Hand = Literal[
    "stop",
    "reset",
    "key",
    "link",
    "power",
    "top_end",
    "bottom_end",
    "top_final",
    "bottom_final",
    "slack_rope",
]
"""What a hand can press beside the control."""

Beat = Annotated[int, Field(ge=0, le=2**53)]
Speed = Annotated[float, Field(ge=SPEED_MIN, le=SPEED_MAX, allow_inf_nan=False)]
DefectId = Annotated[str, Field(min_length=1, max_length=120)]


class _Message(BaseModel):
    model_config = ConfigDict(strict=True, extra="forbid", frozen=True)


class HoldIt(_Message):
    """The control is held; see `hold.Lease`."""

    do: Literal["hold"]
    way: Literal["raise", "lower"]
    beat: Beat


class Release(_Message):
    """The control is let go."""

    do: Literal["release"]


class Press(_Message):
    """Something is pressed, turned, fitted, pushed or switched off. `beat` is for the key."""

    do: Literal["press"]
    what: Hand
    beat: Beat | None = None


class LetGo(_Message):
    """The same the other way."""

    do: Literal["let_go"]
    what: Hand


class Break(_Message):
    """A defect comes, at once or at an event."""

    do: Literal["defect"]
    id: DefectId
    when: Annotated[str, Field(pattern=r"^(now|raise|lower|at:[0-9]{1,5}(\.[0-9]{1,3})?)$")] = "now"


class Mend(_Message):
    """A defect goes, or all of them, also those that were still to come."""

    do: Literal["mend"]
    id: DefectId


class SetSpeed(_Message):
    """Bench seconds in a second, or `max`."""

    do: Literal["speed"]
    x: Speed | Literal["max"]


class Plain(_Message):
    """What needs no further word.

    `step` lets 5 ms pass; `restart` begins anew with what is loaded; `control` asks for the
    right to hold; `trace` asks for the rows of the run as `leafwinch run --trace` writes them,
    `keep` for what happened as a scenario.
    """

    do: Literal["pause", "go", "step", "restart", "control", "trace", "keep"]


class Back(_Message):
    """Go back in bench time and pause."""

    do: Literal["back"]
    s: Annotated[float, Field(gt=0, le=BACK_MAX_S, allow_inf_nan=False)]


class Bare(_Message):
    """A second bench with bare wiring beside the first, or none."""

    do: Literal["bare"]
    on: bool


class Load(_Message):
    """Begin anew with a scenario or an operator script as TOML text; empty for hands only."""

    do: Literal["scenario"]
    text: Annotated[str, Field(max_length=MAX_TEXT)]


Message = HoldIt | Release | Press | LetGo | Break | Mend | SetSpeed | Plain | Back | Bare | Load

_READER: TypeAdapter[Message] = TypeAdapter(Annotated[Message, Field(discriminator="do")])

_SHOWN = 80  # characters of a message that are repeated in an answer


def parse(text: str | bytes) -> Message:
    """Return the message in a text frame.

    Raises:
        BadInput: it is too long, no JSON, or not one of the messages; one short sentence.
    """
    if len(text) > MAX_BYTES:
        raise BadInput(f"The message is too long; allowed are {MAX_BYTES} bytes.")
    try:
        return _READER.validate_json(text)
    except ValidationError as error:
        raise BadInput(_sentence(error)) from None
    except ValueError:
        raise BadInput("The message is no text that can be read.") from None


def _sentence(error: ValidationError) -> str:
    """Return what is wrong first, without repeating much of what came."""
    first = error.errors(include_url=False, include_context=False, include_input=False)[0]
    place = ".".join(str(part) for part in first["loc"])[:_SHOWN]
    what = first["msg"][:_SHOWN]
    return f"The message can't be used{f' at {place}' if place else ''}: {what}."
