"""Every normal situation of the reference wiring against its logic, written out by hand.

Source of the logic: the circuit diagram in the head of the shared control netlist, and the
usual practice of hold-to-run, break contacts and all-pole disconnection of IEC 60204-1
(clauses 5.3, 9.2 and 9.4, from memory).
"""

from dataclasses import dataclass
from itertools import product

import pytest

from leafwinch import signals
from leafwinch_wiring.netlist import Netlist, load_netlist
from leafwinch_wiring.network import Circuit

REFERENCES = ("reference", "reference-12v")
PULLS, DROPS = 0.85, 0.1
"""A coil is surely in above 85 % (IEC 60947-4-1, from memory) and surely out below 10 %."""


@dataclass(frozen=True)
class Situation:
    """What hands, deck, board and armatures do; True means acted upon or pulled."""

    stop: bool
    control: str
    ends: tuple[bool, bool, bool, bool]
    key: bool
    pulled: tuple[bool, bool, bool]
    driven: tuple[bool, bool, bool]


def mask_of(net: Netlist, s: Situation) -> int:
    mask = net.rest_mask
    acted = [("SF0", s.stop, ""), ("SF3", s.key, ""), ("SF1", bool(s.control), s.control)]
    acted += [(f"BG{i}", on, "") for i, on in enumerate(s.ends, 1)]
    acted += [(f"QA{i}", on, "") for i, on in enumerate(s.pulled)]
    for part, on, acts in acted:
        if on:
            mask = net.actuate(mask, part, acts)
    drivers = ("KF1:drive_line", "KF1:drive_raise", "KF1:drive_lower")
    return mask | net.mask_of(n for n, on in zip(drivers, s.driven, strict=True) if on)


def expected_inputs(s: Situation) -> dict[str, bool]:
    top, bottom, top_final, bottom_final = s.ends
    chain = not s.stop and (s.key or not (top_final or bottom_final))
    return {
        "raise_off": s.control != "raise",
        "lower_off": s.control != "lower",
        "raise_path": chain and s.control == "raise" and not top,
        "lower_path": chain and s.control == "lower" and not bottom,
        "top_end": not top,
        "bottom_end": not bottom,
        "top_final": not top_final,
        "bottom_final": not bottom_final,
        "stop_ok": not s.stop,
        "chain_ok": chain,
        "line_released": not s.pulled[0],
        "raise_released": not s.pulled[1],
        "lower_released": not s.pulled[2],
        "rope_taut": True,
        "recovery_off": not s.key,
        "reset": False,
        "service_link": False,
    }


def all_situations() -> list[Situation]:
    flags = (False, True)
    return [
        Situation(stop, control, (t, b, tf, bf), key, (q0, q1, q2), (d0, d1, d2))
        for stop, control, t, b, tf, bf, key in product(
            flags, ("", "raise", "lower"), flags, flags, flags, flags, flags
        )
        for q0, q1, q2 in product(flags, flags, flags)
        if not (q1 and q2)  # The mechanical interlock forbids it.
        for d0, d1, d2 in product(flags, flags, flags)
    ]


@pytest.mark.parametrize("name", REFERENCES)
def test_inputs_and_coils_in_every_situation(name: str) -> None:
    net = load_netlist(name)
    circuit = Circuit(net)
    for s in all_situations():
        solution = circuit.solve(mask_of(net, s))
        wanted = expected_inputs(s)
        found = {
            signal: bool(solution.inputs >> bit & 1)
            for bit, signal in enumerate(signals.CONTACT_NAMES)
        }
        assert found == wanted, s
        coils = (
            s.driven[0] and wanted["chain_ok"],
            s.driven[1] and wanted["raise_path"] and not s.pulled[2],
            s.driven[2] and wanted["lower_path"] and not s.pulled[1],
        )
        for on, ratio in zip(coils, solution.coil_ratio[:3], strict=True):
            assert ratio > PULLS if on else ratio < DROPS, s
        assert solution.trip_mask == 0, s
        assert not solution.short, s


@pytest.mark.parametrize("name", REFERENCES)
def test_motor_and_brake_in_every_contactor_state(name: str) -> None:
    net = load_netlist(name)
    circuit = Circuit(net)
    flags = (False, True)
    for pulled in product(flags, flags, flags):
        s = Situation(False, "", (False,) * 4, False, pulled, (False,) * 3)
        solution = circuit.solve(mask_of(net, s))
        line, up, down = pulled
        if line and up and down:
            assert solution.short, "both direction contactors short the supply"
            assert solution.trip_mask == net.mask_of(["FC1:pole1", "FC1:pole2"])
            continue
        moving = line and (up or down)
        assert (solution.coil_ratio[3] > PULLS) == moving
        assert moving or solution.coil_ratio[3] < DROPS
        if not moving:
            assert all(abs(ratio) < 0.001 for ratio in solution.windings)
        elif net.drive == "dc":
            assert solution.windings[0] == pytest.approx(1.0 if up else -1.0, abs=0.05)
        else:
            main, auxiliary = solution.windings
            assert main == pytest.approx(1.0, abs=0.05)
            assert auxiliary == pytest.approx(1.0 if up else -1.0, abs=0.05)


@pytest.mark.parametrize("name", REFERENCES)
@pytest.mark.parametrize(
    ("part", "signal", "live"),
    [("SF2", "reset", True), ("SF4", "service_link", True), ("BG5", "rope_taut", False)],
)
def test_remaining_inputs(name: str, part: str, signal: str, live: bool) -> None:
    net = load_netlist(name)
    circuit = Circuit(net)
    bit = 1 << signals.CONTACT_NAMES.index(signal)
    at_rest = circuit.solve(net.rest_mask).inputs
    assert bool(at_rest & bit) != live
    assert circuit.solve(net.actuate(net.rest_mask, part)).inputs == at_rest ^ bit


@pytest.mark.parametrize("name", REFERENCES)
@pytest.mark.parametrize("element", ["TB1:on", "QB0:pole1", "QB0:pole2", "FC2:fuse", "XS1:on"])
def test_supply_lost(name: str, element: str) -> None:
    net = load_netlist(name)
    solution = Circuit(net).solve(net.rest_mask & ~net.mask_of([element]))
    if element in ("TB1:on", "FC2:fuse"):
        assert solution.inputs == 0
        assert solution.supply_mv == 0
        assert solution.feed_ratio == pytest.approx(1.0, abs=0.02)
    else:
        assert solution.feed_ratio < 0.1


def test_lamps_follow_their_drivers() -> None:
    net = load_netlist("reference")
    circuit = Circuit(net)
    assert circuit.lamp_names == ("PF1", "PF2", "PJ1")
    for index, driver in enumerate(("drive_white", "drive_red", "drive_buzzer")):
        solution = circuit.solve(net.rest_mask | net.mask_of([f"KF1:{driver}"]))
        for other, ratio in enumerate(solution.lamp_ratio):
            assert ratio > 0.9 if other == index else ratio < 0.01


@pytest.mark.parametrize("name", ["bare", "bare-12v"])
def test_bare_wiring_runs_and_stops_at_its_ends(name: str) -> None:
    net = load_netlist(name)
    circuit = Circuit(net)
    assert not net.has_controller
    for control, end, sign in (("raise", "BG1", 1), ("lower", "BG2", -1)):
        mask = net.actuate(net.rest_mask, "SF1", control)
        running = circuit.solve(mask)
        product_of = running.windings[0] * (running.windings[-1] if net.drive != "dc" else 1.0)
        assert product_of * sign > 0.8
        assert running.coil_ratio[0] > PULLS
        stopped = circuit.solve(net.actuate(mask, end))
        assert max(abs(ratio) for ratio in stopped.windings) < 0.001
        assert stopped.coil_ratio[0] < DROPS
    assert max(abs(r) for r in circuit.solve(net.rest_mask).windings) < 0.001
