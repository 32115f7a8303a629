"""Scenarios: an installation, what hands and surroundings do to it, and what breaks when.

A scenario is a TOML file. Above its acts it says which installation is meant:

    site = "workshop-pit"          # or the path of a site file
    wiring = "reference"           # left out: the site's own
    settings = "sized.toml"        # a file of settings; left out: the site's own
    seed = 3                       # of bounce, contact skew and noise
    clock_wraps_after = "20 s"     # when the board's clock starts again at 0
    mend_at_end = true             # afterwards mend everything and expect a full cycle
    [spread]                       # which sound installation it is, each key may be left out
    friction = 1.2

Each `[[act]]` is a step as in an operator script (`do`, `for` or `until`, `at_most`), with
more verbs: `both` holds the control both ways, `come` and `go` take one of the
surroundings, `break` and `mend` take the id of a defect.
"""

import json
from dataclasses import dataclass, field
from pathlib import Path
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from leafwinch_sim import toml_files
from leafwinch_sim.bench_defects import Defect
from leafwinch_sim.plant_defects import PlantDefect, plant_defects
from leafwinch_sim.scripts import VERBS, Step, parse_step
from leafwinch_sim.site import sentence_of
from leafwinch_sim.site_schema import Site
from leafwinch_sim.spread import NOMINAL, Spread
from leafwinch_sim.units import Milliseconds
from leafwinch_wiring.defect_types import WiringDefect
from leafwinch_wiring.errors import BadInput

CLOCK_WRAPS_MS = 20_000  # as the bench has it without a scenario
OBSTACLES = ("obstacle_below", "obstacle_above")
SAGS_PERCENT = (85, 70, 55, 40, 25, 10)  # what is left of the control supply in a brown-out
SAGS = tuple(f"control_supply_{percent}" for percent in SAGS_PERCENT)
WEATHER = ("people_on_deck", "gust_lifting", "gust_lowering", "supply_low", "supply_high")
SURROUNDINGS = (*OBSTACLES, *WEATHER, *SAGS)
"""What can come and go without anything being broken."""

SCENARIO_VERBS: dict[str, tuple[str, ...]] = {
    **VERBS,
    "both": (),
    "come": SURROUNDINGS,
    "go": SURROUNDINGS,
}
_BREAKING = ("break", "mend")


@dataclass(frozen=True, slots=True)
class Scenario:
    """One scenario.

    Attributes:
        name, summary: for people.
        site, wiring: names or paths; an empty wiring is the site's own.
        settings: path of a file of settings, empty for the site's own.
        starts_at: where the deck lies at the beginning, "bottom" or "top".
        seed: of bounce, contact skew and noise.
        clock_wraps_ms: bench time at which the board's clock wraps.
        spread: which sound installation it is.
        switched_off: parts of the alphabet that a random search did not use.
        found: requirement that it once broke, or empty.
        mend_at_end: whether everything is mended afterwards and a full cycle expected.
        acts: what happens, in order.
    """

    name: str = "scenario"
    summary: str = ""
    site: str = "workshop-pit"
    wiring: str = ""
    settings: str = ""
    starts_at: str = "bottom"
    seed: int = 1
    clock_wraps_ms: int = CLOCK_WRAPS_MS
    spread: Spread = NOMINAL
    switched_off: tuple[str, ...] = ()
    found: str = ""
    mend_at_end: bool = True
    acts: tuple[Step, ...] = field(default=())

    def defects(self) -> tuple[str, ...]:
        """Return the ids of the defects that come, in order."""
        return tuple(act.object for act in self.acts if act.verb == "break")


def surroundings(site: Site) -> dict[str, Defect]:
    """Return what can come and go on a site, by name; the bench treats it like a defect."""
    found: dict[str, Defect] = {
        defect.id: defect
        for defect in plant_defects(site)
        if defect.id in OBSTACLES or defect.id in WEATHER
    }
    for name, percent in zip(SAGS, SAGS_PERCENT, strict=True):
        found[name] = WiringDefect(
            id=name,
            kind="supply_low",
            cause=f"the control supply sags to {percent} %",
            part="",
            control_ratio=percent / 100.0,
        )
    return found


def load_scenario(path: str | Path) -> Scenario:
    """Return the scenario in a file.

    Raises:
        BadInput: one sentence that names file and key, what was found, what is allowed.
    """
    return parse_scenario(*toml_files.read_file(path, "scenario"))


def parse_scenario(data: bytes, source: str) -> Scenario:
    """Return the scenario in the bytes of a TOML file; `source` names it in errors."""
    document = toml_files.parse(data, source, "scenario", "a site and acts")
    rows = document.pop("act", None)
    try:
        head = _Head.model_validate(document)
    except ValidationError as error:
        raise BadInput(f"{source}: {sentence_of(error)}") from None
    if not isinstance(rows, list) or not rows:
        raise BadInput(f"{source}: key 'act' is missing; a scenario needs at least one [[act]].")
    acts = tuple(parse_act(f"{source}: act {number}", row) for number, row in enumerate(rows, 1))
    return Scenario(
        name=head.name or Path(source).stem,
        summary=head.summary,
        site=head.site,
        wiring=head.wiring,
        settings=head.settings,
        starts_at=head.starts_at,
        seed=head.seed,
        clock_wraps_ms=round(head.clock_wraps_after),
        spread=head.spread.as_spread(),
        switched_off=head.switched_off,
        found=head.found,
        mend_at_end=head.mend_at_end,
        acts=acts,
    )


def parse_act(where: str, row: Any) -> Step:
    """Return one act from its table; `where` names file and act in errors."""
    words = str(row.get("do", "")).split() if isinstance(row, dict) else []
    verbs = SCENARIO_VERBS
    if words and words[0] in _BREAKING:
        # Which ids there are depends on the installation, so they are judged when played.
        verbs = {**verbs, words[0]: (words[1] if len(words) > 1 else "the id of a defect",)}
    act = parse_step(where, row, verbs)
    if act.expect:
        raise BadInput(
            f"{where}: 'expect' belongs to operator scripts; a scenario is judged by the "
            "requirements."
        )
    return act


def scenario_text(scenario: Scenario) -> str:
    """Return the TOML text of a scenario; read back it is the same scenario."""
    lines = [f"name = {_quoted(scenario.name)}"]
    for key in ("summary", "site", "wiring", "settings", "starts_at", "found"):
        value = getattr(scenario, key)
        if value:
            lines.append(f"{key} = {_quoted(value)}")
    lines.append(f"seed = {scenario.seed}")
    lines.append(f'clock_wraps_after = "{_seconds(scenario.clock_wraps_ms)}"')
    lines.append(f"mend_at_end = {'true' if scenario.mend_at_end else 'false'}")
    if scenario.switched_off:
        names = ", ".join(_quoted(name) for name in scenario.switched_off)
        lines.append(f"switched_off = [{names}]")
    spread = scenario.spread
    lines += [
        "",
        "[spread]",
        f"friction = {spread.friction!r}",
        f"mass = {spread.mass!r}",
        f"supply = {spread.supply!r}",
        f'bounce = "{spread.bounce_ms} ms"',
        f'skew = "{spread.skew_ms} ms"',
        f'throw = "{spread.throw_ms} ms"',
        f"noise_ma = {spread.noise_ma!r}",
        f"efficiency = {spread.efficiency!r}",
        f"drag = {spread.drag!r}",
    ]
    for act in scenario.acts:
        lines += ["", "[[act]]", f"do = {_quoted(f'{act.verb} {act.object}'.strip())}"]
        if act.until:
            lines += [f'until = "{act.until}"', f'at_most = "{_seconds(act.for_ms)}"']
        elif act.for_ms:
            lines.append(f'for = "{_seconds(act.for_ms)}"')
        if act.note:
            lines.append(f"note = {_quoted(act.note)}")
    return "\n".join(lines) + "\n"


def act_words(act: Step) -> str:
    """Return an act in words, such as "raise for 1.5 s"."""
    words = f"{act.verb} {act.object}".strip()
    if act.until:
        return f"{words} until {act.until}, at most {_seconds(act.for_ms)}"
    return f"{words} for {_seconds(act.for_ms)}" if act.for_ms else words


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)


def _seconds(ms: int) -> str:
    return f"{ms / 1000:g} s" if ms < 1_000_000 else f"{ms} ms"


class _Table(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class _SpreadTable(_Table):
    friction: float = Field(1.0, ge=0.1, le=5.0)
    mass: float = Field(1.0, ge=0.5, le=2.0)
    supply: float = Field(1.0, ge=0.5, le=1.5)
    bounce: Annotated[Milliseconds, Field(ge=0, le=50)] = float(NOMINAL.bounce_ms)
    skew: Annotated[Milliseconds, Field(ge=0, le=50)] = float(NOMINAL.skew_ms)
    throw: Annotated[Milliseconds, Field(ge=1, le=1000)] = float(NOMINAL.throw_ms)
    noise_ma: float = Field(NOMINAL.noise_ma, ge=0.0, le=1000.0)
    efficiency: float = Field(1.0, ge=0.5, le=1.5)
    drag: float = Field(1.0, ge=0.0, le=5.0)

    def as_spread(self) -> Spread:
        return Spread(
            self.friction,
            self.mass,
            self.supply,
            round(self.bounce),
            round(self.skew),
            round(self.throw),
            self.noise_ma,
            self.efficiency,
            self.drag,
        )


class _Head(_Table):
    name: str = ""
    summary: str = ""
    site: str
    wiring: str = ""
    settings: str = ""
    starts_at: Literal["bottom", "top"] = "bottom"
    seed: int = Field(1, ge=0)
    clock_wraps_after: Annotated[Milliseconds, Field(ge=0, le=2**30)] = float(CLOCK_WRAPS_MS)
    mend_at_end: bool = True
    switched_off: tuple[str, ...] = ()
    found: str = ""
    spread: _SpreadTable = _SpreadTable()


def is_surrounding(defect: Defect) -> bool:
    """Tell whether it is weather, load, supply or an obstacle, nothing broken."""
    return defect.id in SURROUNDINGS and (
        isinstance(defect, PlantDefect) or defect.kind == "supply_low"
    )
