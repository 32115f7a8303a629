"""The form of the table of steps: every step of commissioning is a row of data."""

from collections.abc import Callable
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from leafwinch.settings import Settings
from leafwinch.settings_schema import settings_from
from leafwinch_host.commissioning.asking import AskNumber, AskWords, Check
from leafwinch_host.commissioning.watching import Watch
from leafwinch_sim.site_schema import Site
from leafwinch_sim.sizing.worked import Worked, work_out
from leafwinch_wiring.netlist import Netlist

if TYPE_CHECKING:
    from leafwinch_host.commissioning.line import CommissionLine

Act = Watch | AskNumber | AskWords | Check


@dataclass
class Context:
    """What the steps know of the installation.

    Attributes:
        site, net: the installation as it should be.
        who: name of the operator, may be empty.
        line: the board's line.
        values: numbers measured by earlier steps, by name; they live on in the record.
        said: words typed or seen in this sitting, by name.
        facts: what is kept about the installation in the record, such as its program's files.
        folder: where the record is kept.
        keep: saves the record at once.
        settings_seen: whether the board's settings were compared in this sitting.
    """

    site: Site
    net: Netlist
    who: str
    line: "CommissionLine"
    folder: Path
    values: dict[str, float] = field(default_factory=dict)
    said: dict[str, str] = field(default_factory=dict)
    facts: dict[str, Any] = field(default_factory=dict)
    keep: Callable[[], None] = lambda: None
    settings_seen: bool = False

    @cached_property
    def settings(self) -> Settings:
        """The settings as they should be on the board."""
        return settings_from(self.site.settings)

    @cached_property
    def worked(self) -> Worked:
        """The site worked out, for overruns and stall current."""
        return work_out(self.site, self.net)

    @property
    def has_slack(self) -> bool:
        """Whether a slack-rope switch is fitted."""
        return self.site.limits.slack_rope is not None

    @property
    def is_mains(self) -> bool:
        """Whether the motor runs on alternating current of the mains."""
        return self.net.drive == "capacitor_run"


@dataclass(frozen=True)
class Part:
    """One instruction of a step and what follows it.

    Attributes:
        id: name within the step.
        do: what the operator does, or what the tool does.
        make: makes the watch, the question or the check.
        always: done although a part before it failed, such as putting settings back.
        quiet: only waits, and says itself what for; not shown beforehand.
    """

    id: str
    do: str
    make: Callable[[Context], Act]
    always: bool = False
    quiet: bool = False


@dataclass(frozen=True)
class Step:
    """One step.

    Attributes:
        id, title: its name in the record and for people.
        parts: its instructions in order.
        hazard: what can hurt here, in words.
        limits: what is required, in words, with sources.
        needs: ids of steps that must have passed.
        whole: ids of steps that may be skipped, but must not stand as failed.
        each_sitting: done again whenever the commissioning is gone on with.
        wanted: tells why a step does not concern an installation, or returns an empty text.
    """

    id: str
    title: str
    parts: tuple[Part, ...]
    hazard: str = ""
    limits: str = ""
    needs: tuple[str, ...] = ()
    whole: tuple[str, ...] = ()
    each_sitting: bool = False
    wanted: Callable[[Context], str] = lambda _context: ""
