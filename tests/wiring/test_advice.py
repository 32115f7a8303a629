"""Advice with its values: textbook numbers, published limits, and what the wiring really has.

Sources stand beside each check; 'from memory' marks a value not seen in a public text.
"""

import math
import re
from itertools import pairwise

import pytest
from scipy.integrate import quad

from leafwinch.inputs import SETTLE_MS, Inputs
from leafwinch.settings import Settings
from leafwinch_wiring import advice_values as av
from leafwinch_wiring.advice import (
    CLOSED_AFTER,
    DEBOUNCE_S,
    OPEN_AFTER,
    PRACTICE,
    SCAN_S,
    Advice,
    Figure,
    advise,
    cautions,
)
from leafwinch_wiring.errors import BadInput
from leafwinch_wiring.netlist import Netlist, load_netlist
from leafwinch_wiring.schedules.loading import Motor

ALL = ("reference", "reference-12v", "bare", "bare-12v")
MOTORS = {"capacitor_run": Motor(1.9, 8.0), "dc": Motor(35.0, 140.0, 3e-4)}


def advice_of(net: Netlist, code: str, over: str = "pit") -> Advice:
    return next(item for item in advise(net, over, MOTORS[net.drive]) if item.code == code)


@pytest.mark.parametrize("name", ALL)
@pytest.mark.parametrize("over", ["pit", "stair", "water"])
def test_every_piece_is_whole_and_says_where_it_comes_from(name: str, over: str) -> None:
    net = load_netlist(name)
    found = advise(net, over, MOTORS[net.drive])
    assert len({item.code for item in found}) == len(found) >= 4
    for item in found:
        assert item.title
        assert item.words.endswith(".")
        assert re.search(rf"IEC \d|ISO \d|from memory|textbook|{PRACTICE}", item.source), item.code
        for figure in item.figures:
            assert math.isfinite(figure.value)
            assert figure.value > 0.0
    codes = {item.code for item in found}
    assert ("marina" in codes) == ("zones" in codes) == (over == "water")
    assert ("residual" in codes) == (net.drive == "capacitor_run")
    assert ("filter" in codes) == net.has_controller
    with pytest.raises(BadInput, match="over is 'sky'; allowed are pit, stair, water"):
        advise(net, "sky")


@pytest.mark.parametrize("name", ALL)
def test_cautions_name_what_kills(name: str) -> None:
    net = load_netlist(name)
    words = " ".join(cautions(net, "water")).lower()
    for needed in ("licensed electrician", "isolate", "lock off", "prove dead", "prop", "crush"):
        assert needed in words
    for needed in ("rope failure", "drowning", "local code", "barrier"):
        assert needed in words
    assert "drowning" not in " ".join(cautions(net, "pit")).lower()
    assert ("battery" in words) == (net.drive == "dc")
    with pytest.raises(BadInput, match="over is 'sky'"):
        cautions(net, "sky")


# ---- coils -------------------------------------------------------------------------------
def test_the_coils_current_falls_as_the_differential_equation_says() -> None:
    """L di/dt + R i = -V: dt = -L di / (V + R i), summed by number (SciPy; textbook)."""
    R, tau, clamp, drop_out = 192.0, 6e-3, 47.0, 0.25
    L, start = R * tau, 24.0 / R
    seconds = quad(lambda i: L / (clamp + R * i), drop_out * start, start)[0]
    assert av.decay_time(24.0, clamp, drop_out, tau) == pytest.approx(seconds, rel=1e-9)
    energy = quad(lambda i: L * i, 0.0, 0.125)[0]
    assert av.coil_energy(L, 0.125) == pytest.approx(energy) == pytest.approx(9.0e-3)


def test_time_constants_follow_the_dc13_rule() -> None:
    """IEC 60947-5-1: T0.95 = 6 ms per watt up to 300 ms, that is 50 W (from memory)."""
    assert av.coil_time_constant(3.0) == pytest.approx(18e-3 / 3)
    assert av.coil_time_constant(50.0) == pytest.approx(0.1)
    assert av.coil_time_constant(500.0) == pytest.approx(0.1)
    assert 1.0 - math.exp(-av.NATURAL_LOGS_TO_95) == pytest.approx(0.95, abs=1e-3)


@pytest.mark.parametrize("name", ["reference", "reference-12v"])
def test_a_clamp_is_quick_and_a_diode_is_not(name: str) -> None:
    """Makers' tables: an RC element multiplies the opening time by 2 to 3; a clamp stays below."""
    net = load_netlist(name)
    item = advice_of(net, "coil-QA0")
    clamp, diode = (item.figure(f"release with {kind} against bare") for kind in ("clamp", "diode"))
    assert 1.0 < clamp < diode
    assert clamp < 2.0
    # The bench reckons with more than these, which is the safe side for a run-on.
    assert clamp <= item.figure("reckoned with on the bench, clamp")
    assert diode <= item.figure("reckoned with on the bench, diode")
    assert item.figure("clamp") == 47.0
    assert item.figure("voltage across the open contact or driver") == 71.0
    assert "QA0, QA1, QA2" in item.title
    brake = advice_of(net, "coil-MB1")
    gain = brake.figure("current falls to drop-out, plain diode") / brake.figure(
        "current falls to drop-out, clamp"
    )
    assert gain > 4.0


# ---- filters -----------------------------------------------------------------------------
def test_the_filter_is_quick_beside_bounce_and_debounce() -> None:
    """A published study: bounce of 16 of 18 switch types at most 6.2 ms, so 10 ms covers them."""
    item = advice_of(load_netlist("reference"), "filter")
    assert item.figure("longest bounce of ordinary switches") == pytest.approx(6.2)
    assert item.figure("closed for at least") == pytest.approx(10.0)
    assert item.figure("longest bounce of ordinary switches") < item.figure("closed for at least")
    assert item.figure("delay to the threshold") < 1.0
    assert item.figure("time constant") <= 1.0
    # Textbook: fc = 1 / (2 pi R C); 2700 ohm and 0.33 uF give 178.6 Hz.
    assert item.figure("corner") == pytest.approx(178.6, abs=0.1)
    assert item.figure("share of 50 Hz let through") == pytest.approx(0.9630, abs=1e-4)
    assert item.figure("delay if 50 Hz were held back to a tenth") > 20.0


def test_the_low_pass_is_that_of_a_textbook() -> None:
    """At the corner 1 / sqrt 2 of the amplitude passes; half the supply is left after T ln 2."""
    assert av.corner_frequency(1591.549, 1e-7) == pytest.approx(1000.0, rel=1e-6)
    assert av.passed_share(1000.0, 1000.0) == pytest.approx(math.sqrt(0.5))
    assert av.threshold_delay(1e3, 1e-6, 24.0, 12.0) == pytest.approx(1e-3 * math.log(2.0))
    ohm = av.resistance_for_share(0.1, 50.0, 1e-6)
    assert av.passed_share(50.0, av.corner_frequency(ohm, 1e-6)) == pytest.approx(0.1)


def test_the_samples_are_those_of_the_program() -> None:
    """The firmware's own filter: closed after three samples in a row, open after two."""
    inputs = Inputs(Settings())
    pass_ms = round(SCAN_S * 1000)
    for _ in range(SETTLE_MS // pass_ms):
        inputs.step(pass_ms, 0, 24000)
    seen = []
    for contact in (1, 1, 1, 0, 0):
        inputs.step(pass_ms, contact, 24000)
        seen.append(inputs.seen)
    assert seen.index(1) + 1 == CLOSED_AFTER
    assert seen[CLOSED_AFTER:].index(0) + 1 == OPEN_AFTER
    assert pytest.approx((CLOSED_AFTER - 1) * SCAN_S) == DEBOUNCE_S == pytest.approx(10e-3)


# ---- motor and coupling ------------------------------------------------------------------
def test_the_rc_element_is_that_of_the_relay_handbook() -> None:
    """I^2 / 10 uF and U / (10 I^(1 + 50/U)): at 1 A it is 0.1 uF and U / 10 ohm (from memory)."""
    assert av.spark_capacitance(1.0) == pytest.approx(0.1e-6)
    assert av.spark_resistance(230.0, 1.0) == pytest.approx(23.0)
    assert av.spark_resistance(100.0, 2.0) == pytest.approx(10.0 / 2**1.5)
    # Textbook: a capacitor of 1 uF takes 72.3 mA at 230 V, 50 Hz.
    assert av.capacitor_current(230.0, 50.0, 1e-6) == pytest.approx(72.26e-3, rel=1e-4)


def test_an_rc_element_across_a_contact_could_hold_the_brake_and_is_advised_against() -> None:
    item = advice_of(load_netlist("reference"), "motor-rc")
    through = item.figure("current through it if it bridged a contact")
    assert through > item.figure("current that holds the brake lifted")
    assert "Never across an open contact" in item.words


def test_coupling_into_limit_cables_is_far_below_an_inputs_threshold() -> None:
    """Textbook: 230 V through 100 pF is 7.23 uA for each metre of parallel run at 50 Hz."""
    item = advice_of(load_netlist("reference"), "screen")
    coupled = item.figure("coupled from mains, parallel run of that length")
    assert coupled == pytest.approx(7.226 * item.figure("longest control cable"), rel=1e-3)
    assert coupled * 1e-3 < 0.02 * item.figure("current at an input's threshold")


def test_direct_current_motors_get_their_own_advice() -> None:
    """Textbook: 1/2 L I^2 of 0.3 mH and 140 A is 2.94 J."""
    net = load_netlist("reference-12v")
    item = advice_of(net, "motor-dc")
    assert item.figure("energy in the armature when stalled") == pytest.approx(2.94)
    assert not [a for a in advise(net) if a.code.startswith("motor")]  # without its numbers


# ---- limits of standards -----------------------------------------------------------------
def test_zones_are_those_of_iec_60364_7_702() -> None:
    """Zone 1: 2.0 m across and 2.5 m up; zone 2: 1.5 m beyond (from memory); SELV 12 / 30 V."""
    item = advice_of(load_netlist("reference-12v"), "zones", "water")
    assert item.figure("zone 1 from the edge") == 2.0
    assert item.figure("zone 1 upwards") == 2.5
    assert item.figure("zone 2 beyond zone 1") == 1.5
    assert item.figure("SELV at most, direct current") == 30.0
    assert "12 V AC" in item.words
    assert "IPX8" in item.words


def test_residual_current_device_and_brackets_are_what_the_wiring_has() -> None:
    """30 mA for additional protection: IEC 60364-4-41 (from memory)."""
    net = load_netlist("reference")
    item = advice_of(net, "residual")
    assert item.figure("fitted") <= item.figure("at most") == 30.0
    limits = advice_of(net, "brackets")
    assert limits.figure("limits") == limits.figure("brackets") == 4


def test_preferred_numbers_are_those_of_iec_60063() -> None:
    """E6 steps by the sixth root of ten, E12 by the twelfth, rounded."""
    for series, count in ((av.E6, 6), (av.E12, 12)):
        assert len(series) == count
        for low, high in pairwise((*series, 10.0)):
            assert high / low == pytest.approx(10 ** (1 / count), rel=0.08)
    assert av.preferred(48.0) == 47.0
    assert av.preferred(0.361e-6, av.E6) == pytest.approx(0.33e-6)
    assert av.preferred(9.5) == pytest.approx(10.0)
    assert av.preferred_below(0.3704e-6) == pytest.approx(0.33e-6)
    assert av.preferred_below(1.0) == 1.0
    assert av.preferred_below(0.999) == pytest.approx(0.68)


def test_figures_read_well() -> None:
    assert Figure("", 2700.0, "ohm").words == "2700 ohm"
    assert Figure("", 0.96301, "").words == "0.963"
    assert Figure("", 1.7466, "ms").words == "1.75 ms"
