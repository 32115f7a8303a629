"""Faults 1 to 14: supply, stop, finals, chain, ends and control."""

from leafwinch_host.explaining.explanation import (
    COME_BACK,
    LOOK_FIRST,
    NO_BYPASS,
    OUT_OF_USE,
    PROP_FIRST,
    RECOVER,
    RESET,
    Explanation,
    Measure,
    closed,
    opened,
)


def _final(end: str, part: str, working: str, causes: tuple[str, ...]) -> Explanation:
    return Explanation(
        OUT_OF_USE,
        causes,
        (
            Measure(f"{part} and {working}, by eye", "on their brackets, cams tight, levers free"),
            closed(f"{working} 11-12", "off its end"),
            opened(f"{working} 11-12", "lever pushed by hand"),
            closed(f"{part} 11-12", "off its end"),
            closed(f"{part} 21-22", "off its end"),
            Measure("trace: did the working limit open before the final?", "it did, well before"),
        ),
        (
            f"The {end} working limit {working} did not stop the deck: no further travel that way.",
            "An end was met the wrong way, or rope lies loose or backwards on the drum: isolate, "
            "no powered recovery.",
            NO_BYPASS,
            PROP_FIRST,
        ),
        RECOVER,
    )


def _disagrees(end: str, part: str, way: str) -> Explanation:
    return Explanation(
        OUT_OF_USE,
        (
            f"{part}: the contact in the {way} path welded, bridged or wet",
            f"{part}: the second contact, its wire or terminal open",
            f"{part}: its lever half way, or both contacts adjusted apart",
            "board input of that contact dead",
        ),
        (
            closed(f"{part} 11-12", "off its end"),
            opened(f"{part} 11-12", "lever pushed by hand"),
            closed(f"{part} 21-22", "off its end"),
            opened(f"{part} 21-22", "lever pushed by hand"),
            Measure(
                f"{part}, core to core, {_CLAMPED}",
                "above 1 megohm between all cores and earth",
            ),
        ),
        (
            f"Do not drive towards the {end} end: of two contacts that must stop it one is gone.",
            NO_BYPASS,
            PROP_FIRST,
        ),
        RESET,
    )


def _stuck(way: str, contact: str, nc_contact: str, io: tuple[str, str]) -> Explanation:
    return Explanation(
        OUT_OF_USE,
        (
            f"SF1: the {way} contact ({contact}) welded or held by dirt, water or ice",
            f"a bridge from P24 to the {way} path: crushed cable W3, moisture in the station",
            f"SF1: the {way} rest contact ({nc_contact}) welded, so that the two disagree",
            f"board input {io[0]} ({io[1]}) stuck",
        ),
        (
            opened(f"SF1 {contact}", "control in its middle"),
            closed(f"SF1 {nc_contact}", "control in its middle"),
            opened(f"SF1 {nc_contact}", f"control held to {way}"),
            Measure("voltage at " + io[0] + " with the control in its middle", "below 5 V"),
            Measure(f"W3, core to core, {_CLAMPED}", "above 1 megohm"),
        ),
        (
            "The copper way off of the control is lost: only the program still stops it. No "
            "travel, not even a short one.",
            NO_BYPASS,
        ),
        RESET,
    )


_CLAMPED = "isolated, clamped off at both ends"

CONTROL: dict[str, Explanation] = {
    "supply_lost": Explanation(
        LOOK_FIRST,
        (
            "somebody switched off, or the mains or battery failed",
            "a loose terminal or worn cable in the supply of TB1",
            "control fuse FC2 blown: an earth fault or short in a 24 V cable",
            "supply TB1 too weak when a contactor pulls in",
        ),
        (
            Measure(
                "24 V at KF1 terminals 24 and 0V, at rest and in a start",
                "22 V to 26 V, never below {supply_low_v} V",
            ),
            Measure("FC2 1-2, isolated", "closed: below 2 ohm"),
            Measure("P24 to earth with FC2 out, isolated", "above 1 megohm"),
            Measure("QB0 and the breaker", "on; all terminals tight and not discoloured"),
        ),
        (
            "FC2 blows again: look for the earth fault, never fit a larger fuse.",
            "The deck stopped half way: " + PROP_FIRST.partition(": ")[2],
            "Mains, breaker and terminals on the mains side: a licensed electrician.",
        ),
        RESET,
    ),
    "stop_actuated": Explanation(
        LOOK_FIRST,
        (
            "somebody pressed it: ask why before anything else",
            "SF0 not pulled out fully after the last use",
            "cable W2 or a terminal of the stop open",
            "SF0: its second contact dirty or dead",
        ),
        (
            closed("SF0 11-12", "pulled out"),
            closed("SF0 21-22", "pulled out"),
            opened("SF0 11-12", "pressed"),
            opened("SF0 21-22", "pressed"),
        ),
        (
            "Nobody can say why it was pressed: look beneath and behind the deck first.",
            "Nobody pressed it: mend the wire before further use. " + NO_BYPASS,
        ),
        "Pull the stop out by hand. " + RESET,
    ),
    "top_final_actuated": _final(
        "top",
        "BG3",
        "BG1",
        (
            "the top working limit BG1 did not operate: cam lost or shifted, bracket bent",
            "the deck ran on past the limit: weak or oily brake MB1, slow contactor",
            "a wire of BG3 open: cable W4, its terminals",
            "somebody or something pushed the lever of BG3",
            "the gap between working limit and final was set too small",
        ),
    ),
    "bottom_final_actuated": _final(
        "bottom",
        "BG4",
        "BG2",
        (
            "the bottom working limit BG2 did not operate, and rope was paid out",
            "something holds the deck up, so rope is paid out while it stands",
            "a wire of BG4 open: cable W5, its terminals",
            "rope cut shorter or wound anew without setting BG4 again",
            "gear or brake let the drum run on",
        ),
    ),
    "chain_dead": Explanation(
        LOOK_FIRST,
        (
            "a loose terminal or broken core in the chain: W2, W4, W5 and their wires",
            "a path contact (11-12) of SF0, BG3 or BG4 that no longer closes well",
            "moisture or corrosion in one of these switches: a few kilohm instead of closed",
            "SF0, BG3 or BG4: only one of the two contacts opens",
        ),
        (
            closed("SF0 11-12", "pulled out"),
            closed("BG3 11-12", "off its end"),
            closed("BG4 11-12", "off its end"),
            Measure("voltage at KF1 I10 to 0V, everything closed", "22 V to 26 V"),
            Measure("pull gently at each core of the chain", "none comes loose"),
        ),
        (COME_BACK, NO_BYPASS),
        RESET,
    ),
    "chain_bridged": Explanation(
        OUT_OF_USE,
        (
            "a path contact (11-12) of SF0, BG3 or BG4 welded",
            "a bridge over the chain: crushed cable, a forgotten link, moisture",
            "SF0, BG3 or BG4: the second contact or its wire open although the path is sound",
            "the recovery key's bridge contact SF3 13-14 welded",
        ),
        (
            opened("SF0 11-12", "pressed"),
            opened("BG3 11-12", "lever pushed by hand"),
            opened("BG4 11-12", "lever pushed by hand"),
            opened("SF3 13-14", "key at rest with BG3 pushed by hand"),
            closed("SF0 21-22", "pulled out"),
            closed("BG3 21-22", "off its end"),
            closed("BG4 21-22", "off its end"),
        ),
        (
            "The stop or a final may no longer switch the contactors off in copper: no travel.",
            NO_BYPASS,
        ),
        RESET,
    ),
    "recovery_key_turned": Explanation(
        LOOK_FIRST,
        (
            "somebody turned the key or left it turned",
            "the second contact of SF3 (21-22), its wire or terminal open",
            "the key's spring does not bring it back",
            "board input I15 dead",
        ),
        (
            closed("SF3 21-22", "key at rest"),
            opened("SF3 21-22", "key turned"),
            opened("SF3 13-14", "key at rest with BG3 pushed by hand"),
        ),
        (
            "The key does not spring back: out of use, since it bridges both finals.",
            "The key is kept by one person, never left in the box.",
        ),
        "Let the key go. " + RESET,
    ),
    "end_wrong_way": Explanation(
        OUT_OF_USE,
        (
            "rope wound backwards on the drum after it went slack",
            "motor leads swapped after work on motor or supply",
            "the two working limits or their cables swapped",
            "a broken wire at the limit of the other end, just then",
        ),
        (
            Measure("rope on the drum, by eye", "comes off the marked side, dead wraps in order"),
            closed("BG1 21-22", "off its end"),
            closed("BG2 21-22", "off its end"),
            Measure(
                "isolated: push BG1, then BG2, and watch 'leafwinch board inputs'",
                "top end opens, then bottom end",
            ),
        ),
        (
            "Both ways stay forbidden: a rope wound backwards pulls into the end that should "
            "stop it. Do not drive on, do not use the recovery key.",
            PROP_FIRST,
        ),
        "After rope, motor leads and limits were put right and proved: " + RESET,
    ),
    "both_ends": Explanation(
        OUT_OF_USE,
        (
            "a wire, core or terminal of BG1 or BG2 open while the deck lay on the other end",
            "a lever that stayed pushed: ice, dirt, a bent bracket",
            "the second contact of BG1 or BG2 dead, or its board input",
        ),
        (
            closed("BG1 21-22", "off its end"),
            closed("BG2 21-22", "off its end"),
            closed("BG1 11-12", "off its end"),
            closed("BG2 11-12", "off its end"),
        ),
        ("Where the deck stands is not known: look, do not trust the lamps.", NO_BYPASS),
        RESET,
    ),
    "top_end_disagrees": _disagrees("top", "BG1", "raise"),
    "bottom_end_disagrees": _disagrees("bottom", "BG2", "lower"),
    "raise_contact_stuck": _stuck("raise", "13-14", "21-22", ("I3", "raise_path")),
    "lower_contact_stuck": _stuck("lower", "33-34", "41-42", ("I4", "lower_path")),
    "control_both": Explanation(
        LOOK_FIRST,
        (
            "cable W3 or one of its terminals open: a rest contact reads as actuated",
            "SF1: a rest contact (21-22 or 41-42) that does not close",
            "SF1 jammed between two positions",
            "a bridge between cores of W3",
        ),
        (
            closed("SF1 21-22", "control in its middle"),
            closed("SF1 41-42", "control in its middle"),
            opened("SF1 13-14", "control in its middle"),
            opened("SF1 33-34", "control in its middle"),
            Measure("the control's lever, by hand", "springs back to its middle from both sides"),
        ),
        ("The control does not spring back by itself: out of use.", COME_BACK),
        RESET,
    ),
}
