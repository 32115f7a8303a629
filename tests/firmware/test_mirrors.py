"""The contactors by their mirrors: every phase, every combination, every time."""

import itertools

import pytest

from leafwinch.contactors import DIRECTION, LINE, OFF, RUNNING, WAITING, Contactors
from leafwinch.fault_texts import FAULTS
from leafwinch.numbers import LOWER, NO_DIRECTION, RAISE
from leafwinch.settings_schema import settings_from
from leafwinch.signals import LINE_RELEASED, LOWER_RELEASED, RAISE_RELEASED

ALL = LINE_RELEASED | RAISE_RELEASED | LOWER_RELEASED
NAMES = {LINE_RELEASED: "line", RAISE_RELEASED: "raise", LOWER_RELEASED: "lower"}
OWN = {RAISE: RAISE_RELEASED, LOWER: LOWER_RELEASED}
WAYS = (RAISE, LOWER)
OPEN_SETS = [
    frozenset(chosen) for count in range(4) for chosen in itertools.combinations(NAMES, count)
]


def mask(opened: frozenset[int]) -> int:
    """Return the mirrors with these open, that is, these contactors pulled."""
    closed: int = ALL
    for bit in opened:
        closed &= ~bit
    return closed


def named(fault: int) -> str:
    return FAULTS[fault - 1][0] if fault else ""


def in_phase(phase: int, way: int) -> Contactors:
    """Return contactors that a healthy start has brought to this phase."""
    contactors = Contactors(settings_from({}))
    for _ in range(200):
        contactors.step(1, ALL)
    contactors.start(way)
    steps = {DIRECTION: ALL, LINE: ALL & ~OWN[way], RUNNING: ALL & ~OWN[way] & ~LINE_RELEASED}
    for reached, mirrors in steps.items():
        if reached > phase:
            break
        while contactors.phase < reached:
            contactors.step(1, ALL if reached == DIRECTION else mirrors)
            contactors.advance(mirrors)
    assert contactors.phase == phase
    return contactors


def expected(phase: int, way: int, opened: frozenset[int], late: bool) -> str:
    """Say by the rules in words what is wrong with these mirrors in this phase."""
    own, other = OWN[way], OWN[-way]
    if phase == WAITING:  # nothing may be pulled
        return next((f"{NAMES[bit]}_uncommanded" for bit in NAMES if bit in opened), "")
    if other in opened:
        return f"{NAMES[other]}_uncommanded"
    if phase == DIRECTION:
        if LINE_RELEASED in opened:
            return "line_uncommanded"
        return f"{NAMES[own]}_not_pulled" if late and own not in opened else ""
    if own not in opened:
        return f"{NAMES[own]}_not_pulled"
    if LINE_RELEASED not in opened and (late or phase == RUNNING):
        return "line_not_pulled"
    return ""


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("phase", [WAITING, DIRECTION, LINE, RUNNING])
def test_every_combination_of_mirrors_in_every_phase(phase: int, way: int) -> None:
    for opened in OPEN_SETS:
        for ms, late in ((1, False), (99, False), (100, True), (300, True)):
            contactors = in_phase(phase, way)
            contactors.phase_ms = 0
            found = [named(contactors.step(1, mask(opened))) for _ in range(ms)]
            assert found[-1] == expected(phase, way, opened, late), (opened, ms)


@pytest.mark.parametrize("way", WAYS)
def test_each_step_of_a_start_waits_for_its_proof(way: int) -> None:
    contactors = in_phase(WAITING, way)
    own = ALL & ~OWN[way]
    for ms in range(1, 50):
        contactors.step(1, ALL)
        contactors.advance(ALL)
        assert (contactors.phase, contactors.phase_ms, contactors.run_ms) == (WAITING, ms, 0)
    contactors.step(1, ALL)
    contactors.advance(ALL)
    for mirrors, phase in ((ALL, DIRECTION), (ALL & ~OWN[-way], DIRECTION), (own, LINE)):
        assert contactors.phase_ms == 0
        contactors.step(1, mirrors)
        assert contactors.phase_ms == 1
        contactors.advance(mirrors)
        assert contactors.phase == phase
        if phase == DIRECTION:
            contactors.phase_ms = 0
    assert contactors.run_ms == 0
    contactors.step(1, own)
    contactors.advance(own)
    assert (contactors.phase, contactors.run_ms) == (LINE, 1)
    running = own & ~LINE_RELEASED
    for ms in range(2, 6000):
        contactors.step(1, running)
        contactors.advance(running)
        assert (contactors.phase, contactors.phase_ms) == (RUNNING, 0)
        assert contactors.run_ms == min(ms, 5000)
    contactors.stop()
    contactors.start(way)
    assert (contactors.phase, contactors.phase_ms, contactors.run_ms) == (WAITING, 0, 0)


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("phase", [WAITING, DIRECTION, LINE, RUNNING])
def test_a_stop_knows_what_may_still_let_go(phase: int, way: int) -> None:
    contactors = in_phase(phase, way)
    park = contactors.park_high
    contactors.stop()
    letting_go = (OWN[way] if phase >= DIRECTION else 0) | (LINE_RELEASED if phase >= LINE else 0)
    assert contactors.letting_go == letting_go
    assert (contactors.phase, contactors.phase_ms, contactors.off_ms) == (OFF, 0, 0)
    assert (contactors.released_seen, contactors.quiet_ms) == (0, 0)
    assert contactors.park_high == 1 - park
    contactors.stop()  # a second stop changes nothing
    assert (contactors.park_high, contactors.letting_go) == (1 - park, letting_go)
    contactors.start(-way)
    contactors.stop()
    assert contactors.letting_go == 0
    assert contactors.park_high == park


@pytest.mark.parametrize("bit", NAMES)
def test_what_was_commanded_must_let_go_within_100_ms(bit: int) -> None:
    way = LOWER if bit == LOWER_RELEASED else RAISE
    contactors = in_phase(RUNNING, way)
    contactors.stop()
    stuck = mask(frozenset((bit,)))
    found = [named(contactors.step(1, stuck)) for _ in range(150)]
    assert found == [""] * 99 + [f"{NAMES[bit]}_not_released"] * 51
    assert contactors.quiet_ms == 0
    assert named(contactors.step(1, ALL)) == ""
    # Once seen released it must not pull again.
    assert named(contactors.step(1, stuck)) == f"{NAMES[bit]}_uncommanded"


def test_of_several_that_never_let_go_the_line_contactor_is_named_first() -> None:
    for opened, name in (
        (frozenset(NAMES), "line"),
        (frozenset((RAISE_RELEASED, LOWER_RELEASED)), "raise"),
        (frozenset((LINE_RELEASED, LOWER_RELEASED)), "line"),
    ):
        contactors = in_phase(RUNNING, RAISE)
        contactors.stop()
        found = [named(contactors.step(1, mask(opened))) for _ in range(100)]
        assert found[-1] == f"{name}_not_released"
        # The pulse pin parks low, so that a pump which passes a static level lets go.
        assert contactors.park_high == (0 if name == "line" else 1)


@pytest.mark.parametrize("way", WAYS)
def test_within_the_release_time_a_commanded_one_may_bounce_and_no_other(way: int) -> None:
    for bit in NAMES:
        contactors = in_phase(RUNNING, way)
        contactors.stop()
        contactors.step(1, ALL)
        found = named(contactors.step(1, mask(frozenset((bit,)))))
        assert found == ("" if bit in (LINE_RELEASED, OWN[way]) else f"{NAMES[bit]}_uncommanded")
        for _ in range(97):
            contactors.step(1, ALL)
        assert contactors.off_ms == 99
        contactors.step(1, ALL)
        # From here on each has been seen released.
        found = named(contactors.step(1, mask(frozenset((bit,)))))
        assert found == f"{NAMES[bit]}_uncommanded"


def test_quiet_and_off_times_grow_to_5_s() -> None:
    contactors = in_phase(RUNNING, RAISE)
    contactors.stop()
    for ms in range(1, 6000):
        contactors.step(1, ALL)
        assert contactors.quiet_ms == contactors.off_ms == min(ms, 5000)
    contactors.step(1, ALL & ~LOWER_RELEASED)
    assert (contactors.quiet_ms, contactors.off_ms) == (0, 5000)
    contactors.step(1, ALL)
    contactors.forget()
    assert (contactors.quiet_ms, contactors.off_ms, contactors.released_seen) == (0, 0, 0)


def test_when_the_motor_counts_as_energised() -> None:
    fresh = Contactors(settings_from({}))
    assert fresh.way == NO_DIRECTION
    for phase, energised in ((WAITING, False), (DIRECTION, False), (LINE, True), (RUNNING, True)):
        contactors = in_phase(phase, RAISE)
        assert contactors.energised(ALL) == energised
        assert contactors.energised(ALL & ~LINE_RELEASED) == energised
    contactors = in_phase(RUNNING, RAISE)
    contactors.stop()
    for ms in range(1, 1200):
        contactors.step(1, 0)
        # An open line mirror counts for a second; what lasts longer is a fault of its own.
        assert contactors.energised(ALL & ~LINE_RELEASED) == (ms < 1000)
        assert not contactors.energised(ALL)


@pytest.mark.parametrize("way", WAYS)
def test_a_start_in_passes_of_any_length(way: int) -> None:
    contactors = Contactors(settings_from({}))
    for _ in range(1000):
        contactors.step(7, ALL)
    assert contactors.quiet_ms == contactors.off_ms == 5005
    contactors.start(way)
    for passes in range(1, 9):
        contactors.step(7, ALL)
        contactors.advance(ALL)
        assert contactors.phase == (WAITING if passes < 8 else DIRECTION)
    for late in (False, True):
        contactors.phase_ms = 0
        found = [named(contactors.step(7, ALL)) for _ in range(15 if late else 14)]
        assert found[-1] == (f"{NAMES[OWN[way]]}_not_pulled" if late else "")
    running = ALL & ~OWN[way] & ~LINE_RELEASED
    for _ in range(1000):
        contactors.step(7, ALL & ~OWN[way] if contactors.phase < LINE else running)
        contactors.advance(running)
    assert contactors.run_ms == 5005
    contactors.stop()
    stuck = [named(contactors.step(7, ALL & ~OWN[way])) for _ in range(20)]
    assert stuck == [""] * 14 + [f"{NAMES[OWN[way]]}_not_released"] * 6


def test_what_stop_and_start_leave_behind() -> None:
    contactors = in_phase(WAITING, RAISE)
    contactors.step(1, ALL)
    contactors.stop()
    assert contactors.phase_ms == 0
    contactors.phase_ms = 9
    contactors.start(LOWER)
    assert (contactors.way, contactors.phase_ms) == (LOWER, 0)
