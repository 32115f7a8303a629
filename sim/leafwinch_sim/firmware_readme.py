"""Fills the generated parts of firmware/README.md: state diagram and tables.

`python -m leafwinch_sim.firmware_readme` rewrites the file; a test compares it.
"""

from collections.abc import Sequence
from pathlib import Path

import leafwinch
from leafwinch.cause import WINDOW_MS
from leafwinch.fault_texts import FAULT_TEXTS, FAULTS
from leafwinch.faults import SERIOUS
from leafwinch.kept import KEPT_NAMES
from leafwinch.requirement_limits import REQUIREMENTS
from leafwinch.setting_texts import SETTING_MEANINGS
from leafwinch.settings_schema import SCHEMA
from leafwinch.signals import CONTACT_NAMES, OUTPUT_NAMES
from leafwinch.state_texts import ENDINGS, HELD_REASONS, REFUSALS, WARNINGS
from leafwinch_sim.reference_model.diagram import state_diagram

README = Path(next(iter(leafwinch.__path__))).parent / "README.md"


def table(head: tuple[str, ...], rows: Sequence[tuple[object, ...]]) -> str:
    """Return a markdown table."""
    lines = [head, tuple("---" for _ in head), *rows]
    return "\n".join("| " + " | ".join(str(cell) for cell in row) + " |" for row in lines)


def fault_table() -> str:
    """Every fault with its words; the number also orders the causes."""
    rows: list[tuple[object, ...]] = []
    for index, ((name, severity, group, item), (meaning, look)) in enumerate(
        zip(FAULTS, FAULT_TEXTS, strict=True)
    ):
        kept = "yes" if severity == SERIOUS else ""
        rows.append((index + 1, f"`{name}`", kept, f"{group} long, {item} short", meaning, look))
    head = ("no.", "name", "survives power loss", "red lamp", "meaning", "look at")
    return table(head, rows)


def named_table(rows: tuple[tuple[str, str], ...]) -> str:
    """Names with their words for a person."""
    return table(("name", "in words"), [(f"`{name}`", words) for name, words in rows])


def parts() -> dict[str, str]:
    """Return every generated part by the name of its markers."""
    settings = [
        (f"`{name}`", unit, f"{low} to {high}", default, SETTING_MEANINGS[name])
        for name, unit, low, high, default in SCHEMA
    ]
    return {
        "diagram": f"```mermaid\n{state_diagram()}\n```",
        "faults": fault_table(),
        "held": named_table(HELD_REASONS),
        "refusals": named_table(REFUSALS[1:]),
        "endings": named_table(ENDINGS[1:]),
        "warnings": named_table(WARNINGS[1:]),
        "requirements": table(("", "requirement", "limit"), list(REQUIREMENTS)),
        "settings": table(("name", "unit", "allowed", "default", "meaning"), settings),
        "signals": (
            f"Contacts, bit 0 first: {', '.join(f'`{name}`' for name in CONTACT_NAMES)}.\n\n"
            f"Outputs, bit 0 first: {', '.join(f'`{name}`' for name in OUTPUT_NAMES)}."
        ),
        "kept": ", ".join(f"`{name}`" for name in KEPT_NAMES) + ".",
        "window": f"{WINDOW_MS} ms",
    }


def filled(text: str) -> str:
    """Return the text with every generated part renewed.

    Raises:
        ValueError: naming the part whose markers are missing or doubled.
    """
    for name, part in parts().items():
        start = f"<!-- {name} starts -->"
        end = f"<!-- {name} ends -->"
        if text.count(start) != 1 or text.count(end) != 1:
            raise ValueError(f"the markers of '{name}' must be there exactly once")
        head, _, rest = text.partition(start)
        _, _, tail = rest.partition(end)
        inline = "\n" not in part and name == "window"
        text = head + start + (part if inline else f"\n{part}\n") + end + tail
    return text


def main() -> None:
    """Rewrite the file in place."""
    README.write_text(filled(README.read_text(encoding="utf-8")), encoding="utf-8")


if __name__ == "__main__":
    main()
