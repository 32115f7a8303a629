"""What a recording shows in the terminal while it runs: the drive in words, and the counts."""

from dataclasses import dataclass

from rich.console import Group, RenderableType
from rich.table import Table
from rich.text import Text

from leafwinch.fault_texts import FAULT_TEXTS
from leafwinch.signals import CONTACT_NAMES
from leafwinch.states import LOWERING, RAISING
from leafwinch_host.board.live import words_of
from leafwinch_host.board.serial_lines import Line, Sample, sample_of
from leafwinch_host.recording.recorder import Recorder
from leafwinch_host.recording.stream import BACK_MS, TIME_MASK
from leafwinch_host.texts import fault_name

BAR_LETTERS = 40
ENDED_AT_END = (2, 3)  # the top end, the bottom end
WAYS = {RAISING: "raising", LOWERING: "lowering"}


@dataclass(frozen=True, slots=True)
class Levels:
    """What the panel knows of the site: trip in A, or None where no site was named."""

    trip_a: float | None = None


class Progress:
    """Follows travels and faults from the newest samples; `take` is called a few times a second."""

    def __init__(self) -> None:
        self.state = -1
        self.begun_ms = 0
        self.since_s = 0.0  # since the travel began
        self.last_full_s: dict[int, float] = {}
        self.last_fault = 0
        self.highest_a = 0.0

    def take(self, sample: Sample) -> None:
        """Take a sample; those in between may be left out."""
        if sample.fault:
            self.last_fault = sample.fault
        self.highest_a = max(self.highest_a, abs(sample.current_ma) / 1000)
        moved = self.state in WAYS
        if sample.state in WAYS:
            if sample.state != self.state:
                self.begun_ms = sample.t_ms
            ms = (sample.t_ms - self.begun_ms) & TIME_MASK
            self.since_s = ms / 1000 if ms < BACK_MS else 0.0
        elif moved and sample.ended in ENDED_AT_END:
            self.last_full_s[self.state] = self.since_s
        self.state = sample.state


def panel(recorder: Recorder, progress: Progress, levels: Levels) -> RenderableType:
    """Return the panel of this moment."""
    body = recorder.stream.last_sample
    sample = sample_of(Line("T", body.decode("ascii"))) if body else None
    parts: list[RenderableType] = []
    if not recorder.connected:
        parts.append(Text(f"Port {recorder.name} is lost; waiting for it.", style="bold reverse"))
    if recorder.storage.full:
        parts.append(Text("The disk is full; trying again every second.", style="bold reverse"))
    if sample is None or not 0 <= sample.fault <= len(FAULT_TEXTS):
        parts.append(Text("No sample yet.", style="dim"))
    else:
        progress.take(sample)
        parts += drive_parts(sample, progress, levels)
    parts.append(Text(counts(recorder), style="dim"))
    return Group(*parts)


def drive_parts(sample: Sample, progress: Progress, levels: Levels) -> list[RenderableType]:
    """Return state and reasons, current, travel, last fault and the inputs."""
    state, *reasons = words_of(sample)
    parts: list[RenderableType] = [Text(state, style="bold"), *map(Text, reasons)]
    parts.append(Text(current_words(sample, progress, levels)))
    travel = travel_words(progress)
    if travel:
        parts.append(Text(travel))
    if progress.last_fault and not sample.fault:
        number = progress.last_fault
        parts.append(Text(f"last fault: {number} {fault_name(number)}"))
    inputs = Table(box=None, padding=(0, 2, 0, 0), show_header=False)
    third = (len(CONTACT_NAMES) + 2) // 3
    for row in range(third):
        cells: list[Text] = []
        for place in range(row, len(CONTACT_NAMES), third):
            closed = sample.contacts >> place & 1
            cells.append(Text(CONTACT_NAMES[place].replace("_", " ")))
            cells.append(Text("closed") if closed else Text("open", style="bold reverse"))
        inputs.add_row(*cells)
    return [*parts, inputs]


def current_words(sample: Sample, progress: Progress, levels: Levels) -> str:
    """Return current and supply; the current as a bar against the trip level where known."""
    amps = abs(sample.current_ma) / 1000
    full_a = levels.trip_a or progress.highest_a or 1.0
    filled = round(min(1.0, amps / full_a) * BAR_LETTERS)
    bar = "#" * filled + "." * (BAR_LETTERS - filled)
    what = f"trip {levels.trip_a:g} A" if levels.trip_a else f"highest {progress.highest_a:.2f} A"
    return f"current {amps:7.3f} A [{bar}] {what}   supply {sample.supply_mv / 1000:.2f} V"


def travel_words(progress: Progress) -> str:
    """Return how far the travel is, in seconds, against the last full one that way."""
    if progress.state in WAYS:
        last_s = progress.last_full_s.get(progress.state)
        of = f" of {last_s:.1f} s the last time" if last_s else ""
        return f"{WAYS[progress.state]} for {progress.since_s:.1f} s{of}"
    return "; ".join(
        f"last full {WAYS[state]} {last_s:.1f} s" for state, last_s in progress.last_full_s.items()
    )


def counts(recorder: Recorder) -> str:
    """Return the counts in one line."""
    tally = recorder.tally
    storage = recorder.storage
    lost = f", {storage.lost} not kept" if storage.lost else ""
    on_disk = f"{storage.synced_bytes / 1e6:.1f} MB on disk"
    return (
        f"{tally.lines} lines, {tally.missing} missing, {tally.bad} bad, port lost "
        f"{recorder.pulled} times, {on_disk}{lost}; Ctrl-C ends it"
    )
