"""The core and the reference model side by side: every pass of both must agree."""

from collections.abc import Callable
from typing import Any

from leafwinch.kept import KEPT_NAMES
from leafwinch.settings_schema import SETTING_NAMES, settings_from
from leafwinch.signals import (
    BOTTOM_FINAL,
    OUT_LINE_PULSE,
    OUT_LOWER,
    OUT_RAISE,
    TOP_FINAL,
)
from leafwinch.states import STATE_NAMES
from leafwinch.thermal import FULL
from leafwinch_sim.reference_model import ReferenceModel
from leafwinch_sim.reference_model.memory import Memory
from leafwinch_sim.reference_model.rules_motor import UNCERTAIN
from tests.firmware.drive import make_controller

WAYS = {1: "raise", -1: "lower", 0: ""}


class Disagreement(AssertionError):  # noqa: N818 - it is a finding
    """Core and reference model differ."""


def memory_of(kept: tuple[int, ...] | None) -> Memory | None:
    """Return what the model remembers where the core has this record."""
    if kept is None:
        return None
    row = dict(zip(KEPT_NAMES, kept, strict=True))
    met = {}
    if row["finals_open"] & TOP_FINAL:
        met["top_final"] = WAYS[row["top_final_way"]]
    if row["finals_open"] & BOTTOM_FINAL:
        met["bottom_final"] = WAYS[row["bottom_final_way"]]
    pairs = (("raise", "up"), ("lower", "down"))
    return Memory(
        fault=row["fault"],
        met=met,
        heat=row["thermal_level"] / FULL,
        duty=row["duty_ms100"] / 100,
        blocked=row["blocked_ms"],
        extra_used=frozenset(way for way, name in pairs if row[f"{name}_extra_used"]),
        at_start={way: float(row[f"{name}_leave_ms"]) for way, name in pairs},
        paid_slack=row["slack_ms"],
        drifts=row["drifts"],
        doubted=frozenset(
            way for way, end in (("raise", "top"), ("lower", "bottom")) if row[f"{end}_doubted"]
        ),
        parked_high=bool(row["park_high"]),
    )


class Pair:
    """A core that compares itself with the model in every pass; the interface of the core.

    The temperatures must agree within half a percent of the trip. Where a limit is nearer
    than that, the model takes over the core's temperature, and should even that leave the
    two apart, nothing more is compared (`unsure`).
    """

    def __init__(
        self,
        values: dict[str, int],
        kept: tuple[int, ...] | None,
        boot: int = 0,
        make: Callable[..., Any] = make_controller,
    ) -> None:
        self.core = make(values, kept, boot)
        settings = settings_from(values)
        every = {name: getattr(settings, name) for name in SETTING_NAMES}
        self.model = ReferenceModel(every, memory_of(kept), boot)
        self.passes = 0
        self.unsure = False
        self.states: set[tuple[int, int]] = set()

    def __getattr__(self, name: str) -> Any:
        return getattr(self.core, name)

    def step(self, now_ms: int, contacts: int, current_ma: int, supply_mv: int) -> int:
        """Run one pass of both.

        Raises:
            Disagreement: naming pass and values.
        """
        out: int = self.core.step(now_ms, contacts, current_ma, supply_mv)
        self.passes += 1
        model = self.model
        if self.unsure:
            return out
        model.step(now_ms, contacts, current_ma, supply_mv)
        level = self.core.thermal.level / FULL
        if abs(model.heat.level - level) > UNCERTAIN * max(1.0, level):
            raise Disagreement(f"pass {self.passes}: heat {level}, model {model.heat.level}")
        if model.uncertain():
            model.heat.level = level
        mine = (
            self.core.state,
            self.core.fault,
            (bool(out & OUT_RAISE), bool(out & OUT_LOWER), bool(out & OUT_LINE_PULSE)),
            bool(self.core.record_due),
        )
        wanted = (model.state_number, model.fault, model.outputs(), model.record_due)
        self.states.add((self.core.state, self.core.fault))
        if mine != wanted:
            self.unsure = model.uncertain()
            if self.unsure:
                return out
            raise Disagreement(
                f"pass {self.passes}: core {STATE_NAMES[mine[0]]} {mine[1:]}, "
                f"model {STATE_NAMES[wanted[0]]} {wanted[1:]}"
            )
        return out

    def stored(self, now_ms: int) -> None:
        """Note in both that the record was written."""
        self.core.stored(now_ms)
        self.model.stored(now_ms)
