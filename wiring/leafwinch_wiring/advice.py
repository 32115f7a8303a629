"""Advice on noise, suppression, wet places and work on the installation, with computed values.

Every piece of advice names where it comes from: a standard, 'from memory' where its text was not
at hand, or 'common practice, no source'. It replaces no electrician and certifies nothing.
"""

from collections.abc import Iterator
from dataclasses import dataclass

from leafwinch_wiring import advice_values as av
from leafwinch_wiring.errors import BadInput
from leafwinch_wiring.netlist import RELEASE_FACTOR, CoilData, Netlist
from leafwinch_wiring.schedules.ip_codes import meaning, places
from leafwinch_wiring.schedules.loading import Motor

PRACTICE = "common practice, no source"
MEMORY = "from memory"
MAINS_HZ = 50.0
"""The lower of the two mains frequencies, which a filter finds harder to hold back."""
FILTER_MOST_S = 1e-3
"""An input filter slower than this delays a stop noticeably (an assumption)."""
SCAN_S = 5e-3
"""Time between two passes of the board's program."""
CLOSED_AFTER = 3
OPEN_AFTER = 2
"""Samples in a row after which the program takes a contact as closed, and as open."""
DEBOUNCE_S = (CLOSED_AFTER - 1) * SCAN_S
"""Shortest time for which a contact must stay closed to count: 10 ms."""
OVER = ("pit", "stair", "water")
APART_M = 0.1
"""Distance in m between control and power cables (common practice, no source)."""
CODE_FIRST = "local code first"


@dataclass(frozen=True, slots=True)
class Figure:
    """One computed value: `value` in `unit`, a plain SI unit or one with a prefix."""

    name: str
    value: float
    unit: str

    @property
    def words(self) -> str:
        """The value with three figures, or all before the point, and its unit."""
        number = f"{self.value:.0f}" if abs(self.value) >= 1000.0 else f"{self.value:.3g}"
        return f"{number} {self.unit}".strip()


@dataclass(frozen=True, slots=True)
class Advice:
    """One piece of advice: what about, what to do and why, its numbers, where it comes from."""

    code: str
    title: str
    words: str
    figures: tuple[Figure, ...]
    source: str

    def figure(self, name: str) -> float:
        """Value of one of its figures; raise KeyError for a name that it does not have."""
        return {item.name: item.value for item in self.figures}[name]


CAUTIONS = (
    "All mains work, earthing and protective devices: by a licensed electrician, under the local "
    "code, which comes before anything written here.",
    "Before a cover is opened: isolate, lock off and keep the key, prove dead with a tester that "
    "was proved before and after. Terminals ahead of the isolator stay live.",
    "Wait until capacitors are discharged (run capacitor, control supply), and prove it.",
    "Lay the deck flat, or prop the folded leaves, before brake, rope, gear or limits are touched: "
    "with the supply off the deck can still fall.",
    "Nobody on the deck, under it or in the opening while a contactor may pull; barrier at the "
    "open edge. A contactor pushed in by hand moves the deck past every limit.",
    "Crushing: at hinges, wheels and wall. Rope failure: stand out of line with the rope.",
    "After any change of a wire: the continuity sheet, then the commissioning test, again.",
)
"""What whoever works on the wiring is told first."""
WATER_CAUTION = (
    "Over water: drowning and electric shock go together. Nobody alone, nobody in the water while "
    "anything is live, life jackets on, a way out at hand."
)
BATTERY_CAUTION = (
    "A battery can't be switched off: tools off the terminals, minus off first and on last, no "
    "flame or spark near it, and a protective device close to its plus."
)


def cautions(net: Netlist, over: str = "pit") -> tuple[str, ...]:
    """Return the cautions for work on a netlist's installation over `pit`, `stair` or `water`.

    Raises:
        BadInput: `over` is none of the three.
    """
    _check(over)
    more = [WATER_CAUTION] if over == "water" else []
    if net.drive == "dc":
        more.append(BATTERY_CAUTION)
    return (*CAUTIONS, *more)


def advise(net: Netlist, over: str = "pit", motor: Motor | None = None) -> tuple[Advice, ...]:
    """Return all advice for a netlist.

    Args:
        net: the wiring.
        over: what the deck lies over: `pit`, `stair` or `water`.
        motor: numbers of the motor, for its interference suppression.

    Raises:
        BadInput: `over` is none of the three.
    """
    _check(over)
    return (
        *_coils(net),
        *_motor_rc(net, motor),
        *_coupling(net),
        *_filter(net),
        *_limits(net),
        *_coordination(net),
        *_residual(net),
        *_wet(net, over),
    )


def _check(over: str) -> None:
    if over not in OVER:
        raise BadInput(f"over is '{over}'; allowed are {', '.join(OVER)}.")


def _coils(net: Netlist) -> Iterator[Advice]:
    """One piece for each kind of coil: contactors alike, then the brake."""
    seen: dict[tuple[object, ...], list[CoilData]] = {}
    for coil in net.coils:
        kind = net.parts[coil.name].kind
        key = (kind, coil.nominal_v, coil.ohm, coil.drop_out, coil.suppression, coil.release_ms)
        seen.setdefault(key, []).append(coil)
    for coils in seen.values():
        yield _coil(net, coils)


def _coil(net: Netlist, coils: list[CoilData]) -> Advice:
    coil = coils[0]
    names = ", ".join(item.name for item in coils)
    ampere = coil.nominal_v / coil.ohm
    tau = av.coil_time_constant(coil.nominal_v * ampere)
    clamp = av.clamp_voltage(coil.nominal_v)
    with_clamp = av.decay_time(coil.nominal_v, clamp, coil.drop_out, tau)
    with_diode = av.decay_time(coil.nominal_v, av.DIODE_V, coil.drop_out, tau)
    energy = av.coil_energy(coil.ohm * tau, ampere)
    figures = [
        Figure("coil current", ampere * 1e3, "mA"),
        Figure("assumed time constant", tau * 1e3, "ms"),
        Figure("inductance from it", coil.ohm * tau, "H"),
        Figure("energy at switching off", energy * 1e3, "mJ"),
        Figure("clamp", clamp, "V"),
        Figure("voltage across the open contact or driver", coil.nominal_v + clamp, "V"),
        Figure("current falls to drop-out, clamp", with_clamp * 1e3, "ms"),
        Figure("current falls to drop-out, plain diode", with_diode * 1e3, "ms"),
    ]
    contactor = net.parts[coil.name].kind == "contactor"
    if contactor:
        bare_ms = coil.release_ms / RELEASE_FACTOR[coil.suppression]
        figures += [
            Figure("release with clamp against bare", 1.0 + with_clamp * 1e3 / bare_ms, "times"),
            Figure("release with diode against bare", 1.0 + with_diode * 1e3 / bare_ms, "times"),
            Figure("reckoned with on the bench, clamp", RELEASE_FACTOR["clamp"], "times"),
            Figure("reckoned with on the bench, diode", RELEASE_FACTOR["diode"], "times"),
        ]
        words = (
            f"Fit a varistor or two opposed Zener diodes across the coil of {names}, right at its "
            "terminals. A plain diode keeps the current up, holds the contactor in several times "
            "as long, and the deck runs on. The driver must block the sum of supply and clamp. The "
            "time constant below is the standard's; a closed armature is slower, so the bench "
            "reckons with the larger factors."
        )
    elif any(part.kind == "contactor" for part in net.parts.values()):
        words = (
            f"Fit a varistor across the coil of {names}, behind the contact that cuts its direct "
            "current. The higher the clamp, the sooner the brake closes; the open contact must "
            "stand the sum. No free-wheeling diode there: it delays the brake."
        )
    else:
        words = (
            f"{names} is fed together with the motor and no contact cuts its direct current: its "
            "current dies away through rectifier or motor, and the brake closes late. A varistor "
            "does not help that; a contact on the direct-current side does."
        )
    source = f"DC-13 rule of IEC 60947-5-1 for the time constant ({MEMORY}); the rest textbook"
    return Advice(f"coil-{coil.name}", f"Suppression of {names}", words, tuple(figures), source)


def _motor_rc(net: Netlist, motor: Motor | None) -> Iterator[Advice]:
    if motor is None:
        return
    volts = next(p.source.nominal_v for p in net.parts.values() if p.source is not None)
    for part in net.parts.values():
        if part.source is not None and part.source.feeds == "power":
            volts = part.source.nominal_v
    if net.drive == "dc":
        energy = av.coil_energy(motor.inductance_h, motor.start_a)
        yield Advice(
            "motor-dc",
            "Interference of the motor's brushes",
            "Fit 100 nF from each brush to the motor's case and 100 nF between the brushes, right "
            "at the motor, and a transient suppressor across the motor that takes the energy "
            "below. Twist both motor leads over their whole way.",
            (
                Figure("energy in the armature when stalled", energy, "J"),
                Figure("suppressor stands off at least", 1.5 * volts, "V"),
                Figure("capacitor", 100.0, "nF"),
            ),
            PRACTICE,
        )
        return
    farads = av.preferred(av.spark_capacitance(motor.rated_a), av.E6)
    ohm = av.preferred(av.spark_resistance(volts, motor.rated_a))
    leak = av.capacitor_current(volts, MAINS_HZ, farads)
    brake = [c for c in net.coils if net.parts[c.name].kind == "brake"]
    holds = min((c.drop_out * c.nominal_v / c.ohm for c in brake), default=0.0)
    yield Advice(
        "motor-rc",
        "RC element for the motor's contacts",
        "Where sparking or interference asks for one, fit it from line to line at the motor's side "
        "of the reversing contactor, with a capacitor of class X2. Never across an open contact: "
        "what then flows through it keeps windings and brake under voltage, and the current below "
        "is to be compared with what holds the brake lifted.",
        (
            Figure("capacitor", farads * 1e6, "uF"),
            Figure("resistor", ohm, "ohm"),
            Figure("current through it if it bridged a contact", leak * 1e3, "mA"),
            Figure("current that holds the brake lifted", holds * 1e3, "mA"),
        ),
        f"rule of a relay handbook ({MEMORY}); class X2 by IEC 60384-14 ({MEMORY})",
    )


def _coupling(net: Netlist) -> Iterator[Advice]:
    board = next((part.board for part in net.boards), None)
    if board is None:
        return
    control = [c for c in net.cables.values() if c.group == "control"]
    longest = max((c.length_m for c in control), default=0.0)
    needed = board.threshold_v / board.input_ohm
    figures = [
        Figure("longest control cable", longest, "m"),
        Figure("current at an input's threshold", needed * 1e3, "mA"),
        Figure("distance to power cables", APART_M, "m"),
    ]
    if net.drive == "capacitor_run":
        volts = max(p.source.nominal_v for p in net.parts.values() if p.source is not None)
        metre = av.capacitor_current(volts, MAINS_HZ, av.COUPLING_F_PER_M)
        figures += [
            Figure("coupled from mains, parallel run of that length", metre * longest * 1e6, "uA"),
            Figure("parallel run that reaches the threshold", needed / metre, "m"),
        ]
    yield Advice(
        "screen",
        "Screened limit cables",
        "Not needed: an isolated 24 V input asks for milliamperes, and a parallel run couples "
        "microamperes. Keep control cables apart from power cables, cross at right angles, and "
        "never lead both in one cable. If a screen is fitted all the same, connect it to earth at "
        "the box only. Screen the current sensor's leads where they leave the box.",
        tuple(figures),
        f"capacitance per metre and distance: {PRACTICE}",
    )


def _filter(net: Netlist) -> Iterator[Advice]:
    board = next((part.board for part in net.boards), None)
    if board is None:
        return
    volts = next(
        p.source.nominal_v
        for p in net.parts.values()
        if p.source is not None and p.source.feeds == "control"
    )
    farads = av.preferred_below(FILTER_MOST_S / board.input_ohm)
    corner = av.corner_frequency(board.input_ohm, farads)
    delay = av.threshold_delay(board.input_ohm, farads, volts, board.threshold_v)
    slow = av.resistance_for_share(0.1, MAINS_HZ, farads)
    yield Advice(
        "filter",
        "Filter of the board's inputs",
        "A small capacitor behind the input's resistance takes off spikes. Bounce is the program's "
        "business: a contact counts as closed after three samples, as open after two. Do not try "
        "to hold back 50 Hz here: the resistance for a tenth would delay every stop by the last "
        "figure. Picked-up 50 Hz stays above the threshold for less than the half wave of 10 ms, "
        "so it never counts as a closed contact.",
        (
            Figure("resistance", board.input_ohm, "ohm"),
            Figure("capacitor", farads * 1e6, "uF"),
            Figure("time constant", board.input_ohm * farads * 1e3, "ms"),
            Figure("corner", corner, "Hz"),
            Figure("share of 50 Hz let through", av.passed_share(MAINS_HZ, corner), ""),
            Figure("delay to the threshold", delay * 1e3, "ms"),
            Figure("longest bounce of ordinary switches", av.BOUNCE_LONGEST_S * 1e3, "ms"),
            Figure("closed for at least", DEBOUNCE_S * 1e3, "ms"),
            Figure(
                "delay if 50 Hz were held back to a tenth",
                av.threshold_delay(slow, farads, volts, board.threshold_v) * 1e3,
                "ms",
            ),
        ),
        "textbook low pass; bounce from a published study of debouncing",
    )


def _limits(net: Netlist) -> Iterator[Advice]:
    brackets = [p for p in net.parts.values() if p.kind == "limit_switch"]
    if not brackets:
        return
    yield Advice(
        "brackets",
        "Brackets and cams of the limits",
        "Each limit on a bracket of its own with a cam of its own, pinned or with two screws: one "
        "loose screw must not take away the working and the final limit of one end. Cables of both "
        "enter from below with a drip loop. Mark the set place with paint.",
        (
            Figure("limits", len(brackets), ""),
            Figure("brackets", len({part.bracket for part in brackets}), ""),
        ),
        f"{PRACTICE}; common cause is a term of ISO 13849-1",
    )


def _coordination(net: Netlist) -> Iterator[Advice]:
    if not any(part.kind == "contactor" for part in net.parts.values()):
        return
    source = next(
        p.source for p in net.parts.values() if p.source is not None and p.source.feeds == "power"
    )
    yield Advice(
        "coordination",
        "Type 2 coordination",
        "Take breaker and contactors as a pair from one maker's table for type 2: after a short "
        "the contactor works on, and light welding that is easily parted is allowed. Inspect both "
        "and do the proof tests after any short.",
        (Figure("fault current of the supply as stated", source.nominal_v / source.ohm, "A"),),
        f"IEC 60947-4-1 ({MEMORY})",
    )


def _residual(net: Netlist) -> Iterator[Advice]:
    if net.drive != "capacitor_run":
        return
    fitted = max((p.protection.residual_ma for p in net.parts.values() if p.protection), default=0)
    yield Advice(
        "residual",
        "Residual current protection",
        "30 mA or less, type A since the brake's rectifier can put a pulsating direct current on "
        "earth. Press its test button at the stated interval. It does not replace the protective "
        f"conductor; {CODE_FIRST}.",
        (Figure("fitted", fitted, "mA"), Figure("at most", 30.0, "mA")),
        f"IEC 60364-4-41 and IEC 61009-1 ({MEMORY})",
    )


def _wet(net: Netlist, over: str) -> Iterator[Advice]:
    rows = places(net, over)
    codes = sorted({row.code for row in rows if row.wet})
    if codes:
        yield Advice(
            "enclosure",
            "Enclosures in wet places",
            "Cable glands below, a drain or breather at the lowest point, no hole in the top. "
            + " ".join(f"{code}: {meaning(code)}." for code in codes),
            (Figure("wet places", sum(row.wet for row in rows), ""),),
            f"IEC 60529; the choice: {PRACTICE}",
        )
    if over != "water":
        return
    yield Advice(
        "marina",
        "At a jetty or slip",
        "Nothing that carries mains in the splash zone; socket-outlets and final circuits behind "
        "30 mA each; enclosures at least IPX4 where it splashes, IPX5 against jets, IPX6 against "
        f"waves; cables where keels, anchors and feet can't reach them; {CODE_FIRST}.",
        (Figure("residual current at most", 30.0, "mA"),),
        f"IEC 60364-7-709 ({MEMORY})",
    )
    yield Advice(
        "zones",
        "Where people bathe",
        "Zone 0 is the water, zone 1 reaches 2.0 m from its edge and 2.5 m up, zone 2 another "
        "1.5 m. In zones 0 and 1 only SELV of at most 12 V AC or 30 V DC with its source outside "
        "them; zone 0 IPX8, zone 1 IPX4 (IPX5 against jets), zone 2 IPX4 outdoors. A 24 V control "
        "with 0 V earthed is PELV, not SELV: keep it out of zones 0 and 1, or have a licensed "
        "electrician change it.",
        (
            Figure("zone 1 from the edge", 2.0, "m"),
            Figure("zone 1 upwards", 2.5, "m"),
            Figure("zone 2 beyond zone 1", 1.5, "m"),
            Figure("SELV at most, direct current", 30.0, "V"),
        ),
        f"IEC 60364-7-702 (zone 2 and IP codes {MEMORY})",
    )
