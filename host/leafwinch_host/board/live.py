"""The board's inputs as they are now: one table, renewed while lines come."""

from rich.console import Group
from rich.table import Table
from rich.text import Text

from leafwinch.fault_texts import FAULT_TEXTS
from leafwinch.signals import CONTACT_NAMES, OUTPUT_NAMES
from leafwinch.state_texts import ENDINGS, HELD_REASONS, REFUSALS, WARNINGS
from leafwinch_host.board.serial_lines import Counted, Sample
from leafwinch_host.texts import fault_name, state_sentence

CLOSED = "closed"
OPEN = "open"


def words_of(sample: Sample) -> list[str]:
    """Return what the drive does and why, in words, the cause first."""
    said = [state_sentence(sample.state)]
    if sample.fault:
        said.append(f"fault {sample.fault} {fault_name(sample.fault)}")
        said.append(FAULT_TEXTS[sample.fault - 1][1])
    for bit, (_, words) in enumerate(HELD_REASONS):
        if sample.held_reasons >> bit & 1:
            said.append(words)
    for number, rows in ((sample.refused, REFUSALS), (sample.warning, WARNINGS)):
        if 0 < number < len(rows):
            said.append(rows[number][1])
    if 0 < sample.ended < len(ENDINGS):
        said.append(f"last travel: {ENDINGS[sample.ended][1]}")
    return said


def as_data(sample: Sample) -> dict[str, object]:
    """Return a sample with names, for JSON."""
    return {
        "t_ms": sample.t_ms,
        "contacts": {n: bool(sample.contacts >> i & 1) for i, n in enumerate(CONTACT_NAMES)},
        "outputs": {n: bool(sample.outputs >> i & 1) for i, n in enumerate(OUTPUT_NAMES)},
        "current_ma": sample.current_ma,
        "supply_mv": sample.supply_mv,
        "fault": sample.fault,
        "words": words_of(sample),
    }


def panel(sample: Sample, counted: Counted) -> Group:
    """Return the table of one sample."""
    contacts = Table(box=None, padding=(0, 2, 0, 0), show_header=False)
    half = (len(CONTACT_NAMES) + 1) // 2
    for index in range(half):
        row: list[str | Text] = []
        for place in (index, index + half):
            if place < len(CONTACT_NAMES):
                closed = sample.contacts >> place & 1
                row += [CONTACT_NAMES[place].replace("_", " "), _contact(bool(closed))]
        contacts.add_row(*row)
    driven = [
        name.replace("_", " ") for bit, name in enumerate(OUTPUT_NAMES) if sample.outputs >> bit & 1
    ]
    values = Text(
        f"current {sample.current_ma / 1000:8.3f} A   supply {sample.supply_mv / 1000:6.2f} V   "
        f"driven: {', '.join(driven) or 'nothing'}"
    )
    state, *reasons = words_of(sample)
    lines = Text(
        f"{counted.lines} lines, {counted.missing} missing, {counted.bad} bad; "
        f"late passes {sample.late}, dropped lines {sample.dropped} (modulo 256)",
        style="dim",
    )
    return Group(Text(state, style="bold"), *map(Text, reasons), contacts, values, lines)


def _contact(closed: bool) -> Text:
    return Text(CLOSED) if closed else Text(OPEN, style="bold reverse")
