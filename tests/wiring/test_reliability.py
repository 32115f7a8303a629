"""What a stop rests on, derived from the netlist, and what is claimed of it."""

from pathlib import Path

import pytest

from leafwinch_wiring.errors import BadInput
from leafwinch_wiring.netlist import load_netlist
from leafwinch_wiring.reliability import ways
from leafwinch_wiring.reliability.functions import (
    ESTIMATE_ONLY,
    WHY_NOT_FIRMWARE,
    FunctionEstimate,
    estimate,
)
from tests.wiring.changed_netlist import changed

REFERENCES = ("reference", "reference-12v")
BARE = ("bare", "bare-12v")


def by_key(found: list[FunctionEstimate]) -> dict[str, FunctionEstimate]:
    assert len({item.key for item in found}) == len(found)
    return {item.key: item for item in found}


def parts(item: FunctionEstimate) -> list[list[str]]:
    """Parts and contacts of each channel, main poles left out."""
    way = item.with_firmware or item.copper
    assert way is not None
    return [
        [b.part if len(b.contacts) != 1 else b.contacts[0] for b in channel.blocks]
        for channel in way.channels
    ]


@pytest.mark.parametrize("name", REFERENCES)
def test_channels_are_those_of_the_circuit_diagram(name: str) -> None:
    """Against the paths that stand at the head of control-24v.toml, read by eye."""
    found = by_key(estimate(load_netlist(name)))
    wanted = {
        "hold_to_run_raise": [["SF1:raise_no", "QA1"], ["SF1:raise_nc", "KF1", "QA0"]],
        "hold_to_run_lower": [["SF1:lower_no", "QA2"], ["SF1:lower_nc", "KF1", "QA0"]],
        "end_stop_raise": [["BG1:path", "QA1"], ["BG1:second", "KF1", "QA0"]],
        "end_stop_lower": [["BG2:path", "QA2"], ["BG2:second", "KF1", "QA0"]],
        "final_stop_BG3": [["BG3:path", "QA0"], ["BG3:second", "KF1", "QA1"]],
        "final_stop_BG4": [["BG4:path", "QA0"], ["BG4:second", "KF1", "QA1"]],
        "unexpected_start": [["SF1:raise_no", "QA1", "SF1:lower_no", "QA2"], ["KF1", "QA0"]],
        "emergency_stop": [["SF0:path", "QA0"], ["SF0:second", "KF1", "QA2"]],
        "current_trip": [["BC1", "KF1", "QA0"]],
        "slack_stop": [["BG5:taut", "KF1", "QA0"]],
    }
    assert {key: parts(item) for key, item in found.items()} == wanted


@pytest.mark.parametrize("name", REFERENCES)
def test_only_copper_is_claimed_and_never_more_than_category_1(name: str) -> None:
    """ISO 13849-1 6.2.4 and table 7 (from memory): one untested channel is c at most."""
    for item in estimate(load_netlist(name)):
        assert ESTIMATE_ONLY in item.sentence
        if item.with_firmware is not None:
            assert not item.with_firmware.claimed
            assert WHY_NOT_FIRMWARE in item.with_firmware.reasons
            assert WHY_NOT_FIRMWARE in item.sentence
            assert item.with_firmware.ccf_points < 65
        if item.copper is None:
            assert (item.claimed_category, item.claimed_level) == ("-", "-")
        else:
            assert item.copper.claimed
            assert item.claimed_category in ("B", "1")
            assert item.claimed_level in ("b", "c")


@pytest.mark.parametrize("name", REFERENCES)
def test_a_contact_opened_by_a_spring_is_not_well_tried(name: str) -> None:
    """ISO 13849-2 table D.3 (from memory) lists switches with direct opening action."""
    found = by_key(estimate(load_netlist(name)))
    for key, category, level in (
        ("hold_to_run_raise", "B", "b"),
        ("hold_to_run_lower", "B", "b"),
        ("unexpected_start", "B", "b"),
        ("end_stop_raise", "1", "c"),
        ("end_stop_lower", "1", "c"),
        ("final_stop_BG3", "1", "c"),
        ("emergency_stop", "1", "c"),
    ):
        assert (found[key].claimed_category, found[key].claimed_level) == (category, level), key
        assert ("direct opening" in found[key].sentence) == (category == "B")


@pytest.mark.parametrize("name", BARE)
def test_the_bare_way_is_one_channel_of_category_b(name: str) -> None:
    found = by_key(estimate(load_netlist(name)))
    for key in ("hold_to_run_raise", "hold_to_run_lower", "end_stop_raise", "end_stop_lower"):
        item = found[key]
        assert item.with_firmware is None
        assert item.copper is not None
        assert len(item.copper.channels) == 1
        assert (item.claimed_category, item.claimed_level) == ("B", "b")
        assert "no contactor" in item.sentence
    for key in ("final_stop", "emergency_stop", "current_trip", "slack_stop"):
        assert found[key].copper is None
        assert found[key].with_firmware is None
        assert "does not have this function" in found[key].sentence


def test_numbers_of_one_function_by_hand() -> None:
    """End stop at 4 cycles a day: 1460 operations of BG1, 4380 of QA1, 8760 of QA0 in a year.

    BG1 20e6 / 146 = 136986 a, QA1 1.3e6 / 438 = 2968 a, together above the cap of 100 a: PFHD
    1.14e-6. Second way 1/(1/136986 + 1/10 + 1/1484) = 9.93 a; D.2 with 100 a is 67.27 a, DCavg
    60.4 %, row of 62 a: 2.13e-7.
    """
    item = by_key(estimate(load_netlist("reference")))["end_stop_raise"]
    assert item.copper is not None
    assert item.with_firmware is not None
    first, second = item.with_firmware.channels
    assert [block.operations for block in first.blocks] == [1460.0, 4380.0]
    assert [block.mttfd_a for block in first.blocks] == pytest.approx([136_986, 2968], rel=1e-3)
    assert second.blocks[2].operations == 8760.0
    assert second.mttfd_a == pytest.approx(9.93, abs=0.005)
    assert second.band == "low"
    assert item.copper.mttfd_a == 100.0
    assert item.copper.pfhd_per_h == 1.14e-6
    assert item.with_firmware.mttfd_a == pytest.approx(67.27, abs=0.01)
    assert item.with_firmware.dc_avg == pytest.approx(0.604, abs=5e-4)
    assert item.with_firmware.pfhd_per_h == 2.13e-7
    assert item.with_firmware.level == "d"
    assert item.with_firmware.replace_after_a == pytest.approx(1.3e6 / 8760, rel=1e-3)


def test_how_often_parts_are_operated() -> None:
    """Emergency stop once a week, finals once a month: assumptions, no source."""
    assert (ways.DAYS_PER_WEEK, ways.FINAL_TRIALS_PER_YEAR) == (7.0, 12.0)
    found = by_key(estimate(load_netlist("reference"), 4.0, 364.0))
    for key, operations in (("emergency_stop", 52.0), ("final_stop_BG3", 12.0)):
        copper = found[key].copper
        assert copper is not None
        assert copper.channels[0].blocks[0].operations == operations


def test_more_use_never_helps() -> None:
    net = load_netlist("reference")
    last: dict[str, float] = {}
    for cycles in (1.0, 10.0, 100.0, 400.0, 3000.0):
        for item in estimate(net, cycles):
            for way, found in (("copper", item.copper), ("both", item.with_firmware)):
                if found is None:
                    continue
                now = found.pfhd_per_h or 1.0
                assert now >= last.get(item.key + way, 0.0), (item.key, way, cycles)
                last[item.key + way] = now


def test_a_part_worn_out_within_3_years_has_no_level() -> None:
    """ISO 13849-1 4.5.2 (from memory): below 3 years a channel is not acceptable."""
    item = by_key(estimate(load_netlist("reference"), 3000.0))["hold_to_run_raise"]
    assert item.copper is not None
    assert item.copper.pfhd_per_h is None
    assert item.claimed_level == "-"
    assert item.copper.band == "-"
    assert "less than 3 years" in item.sentence


@pytest.mark.parametrize(
    ("use", "words"),
    [
        ((0.0, 365.0, 3.0), "0 cycles a day"),
        ((float("nan"), 365.0, 3.0), "nan cycles a day"),
        ((float("inf"), 365.0, 3.0), "inf cycles a day"),
        ((4.0, 367.0, 3.0), "367 days a year"),
        ((4.0, 365.0, -1.0), "-1 presses a travel"),
    ],
)
def test_a_use_that_cannot_be_is_refused(use: tuple[float, float, float], words: str) -> None:
    with pytest.raises(BadInput, match=words):
        estimate(load_netlist("reference"), *use)


def test_a_limit_without_its_copper_path_is_left_to_the_firmware(tmp_path: Path) -> None:
    """The top limit's path contact is bypassed by a wire: the estimate must see it."""
    edit = (
        '["XD1:23", "KF1:I5", "32"],',
        '["XD1:23", "KF1:I5", "32"],\n["XD1:7", "XD1:22", "99"],',
    )
    found = by_key(estimate(changed(tmp_path, "reference", edit)))
    assert found["limit_BG1"].copper is None
    assert "Nothing is claimed" in found["limit_BG1"].sentence
    assert found["end_stop_raise"].copper is None


def test_no_mirror_contact_on_an_input_means_no_coverage(tmp_path: Path) -> None:
    """ISO 13849-1 table E.1: 99 % needs the contactor to be monitored directly."""
    edit = (
        '["QA1:22", "KF1:I12", "49"]',
        '["QA1:22", "XD1:28", "49"], ["XD1:28", "KF1:I12", "98"]',
    )
    for net, dc in ((load_netlist("reference"), 0.99), (changed(tmp_path, "reference", edit), 0.0)):
        copper = by_key(estimate(net))["end_stop_raise"].copper
        assert copper is not None
        block = copper.channels[0].blocks[1]
        assert (block.part, block.dc) == ("QA1", dc)


def test_a_limit_with_direct_opening_taken_away_falls_to_category_b(tmp_path: Path) -> None:
    old = 'text = "top working limit"\nbracket = "B1"\nterminals = ["11", "12", "21", "22"]\n'
    line = (
        'contacts = [\n  { name = "path", type = "nc", terminals = ["11", "12"], acts = "limit",'
        " direct_opening = "
    )
    edit = (f"{old}{line}true", f"{old}{line}false")
    item = by_key(estimate(changed(tmp_path, "reference", edit)))["end_stop_raise"]
    assert (item.claimed_category, item.claimed_level) == ("B", "b")
    assert item.copper is not None
    assert "assumption" in item.copper.channels[0].blocks[0].source
