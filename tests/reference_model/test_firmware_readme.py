"""The firmware's README holds the diagram and tables that the code has now."""

import pytest

from leafwinch_sim.firmware_readme import README, filled, parts
from leafwinch_sim.reference_model.diagram import state_diagram
from leafwinch_sim.reference_model.machine import TRANSITIONS


def test_the_generated_parts_are_up_to_date() -> None:
    text = README.read_text(encoding="utf-8")
    # Renew it with: python -m leafwinch_sim.firmware_readme
    assert filled(text) == text


def test_an_old_part_is_renewed_and_a_missing_marker_is_said_so() -> None:
    text = README.read_text(encoding="utf-8")
    old = text.replace("stop_actuated", "stop_pressed")
    assert old != text
    assert filled(old) == text
    with pytest.raises(ValueError, match="the markers of 'faults'"):
        filled(text.replace("<!-- faults ends -->", ""))


def test_the_diagram_shows_every_transition() -> None:
    arrows = [line.strip() for line in state_diagram().splitlines() if "-->" in line]
    for row in TRANSITIONS:
        sources = row["source"] if isinstance(row["source"], list) else [row["source"]]
        for source in sources:
            assert f"{source} --> {row['dest']}: {row['trigger']}" in arrows
    assert set(parts()) >= {"diagram", "faults", "held", "kept"}


def test_every_module_has_its_owner_line() -> None:
    text = README.read_text(encoding="utf-8")
    for path in (README.parent / "leafwinch").glob("*.py"):
        if path.name != "__init__.py":
            assert f"`{path.name}`" in text, path.name
