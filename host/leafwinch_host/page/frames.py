"""What the page is shown: one frame of the bench as plain data, and what it needs once.

A frame, sent 30 to 60 times a second while anything changes, else four times a second:

    t_ms, angle_deg, free_end_mm           bench time; leaf A above horizontal; axle from the wall
    rope {slack_mm, tension_n, out_mm, turns}, buffer_n, moving
    current_a, current_ma, supply_mv       motor current; what the board measures (null: stale)
    way                                    1 or -1 while the motor is fed to raise or lower, 2 for
                                           fed without a direction
    state, state_words                     name out of the firmware's table; `off` without power,
                                           `starting` while the board boots, `none` with no board
    fault, fault_number, fault_words, lamp_code   "" and 0 for none; the code as "6-3"
    held_words [..], warning_words, refused_words, ended_words   words out of the tables
    asked, lever                           1, 0, -1; where the lever is, -1000 to 1000
    hands {name: 0/1}                      what is pressed; `power` is 1 while isolated
    limits {name: 0/1}                     what is actuated
    contacts {name: 0/1}, outputs {name: 0/1}   of the board
    elements {name: 0/1}                   what is closed in the circuit, defects included
    coils {QA0: {ratio, on}}, brake_set
    live [net names], live_wires [marks]   what carries voltage
    monitors [{name, ok, text, t_ms}]      ok is null where a requirement is not judged
    defects [{id, part, cause}], pending [{id, when}]
    obstacle {below_deg, above_deg}        null where there is none
    events [[t_ms, words]]                 the last few
    speed ("max" or a number), paused, lag (real seconds lost in the last one)
    playing {name, act, of, over}          script or scenario, null with hands only
    bare                                   the same small set of the bench beside it, or null
    trouble                                "" or why the bench stands still for good

The server adds `holder`: `you`, `other` or `nobody`.
"""

from typing import Any

from leafwinch.fault_texts import FAULT_TEXTS, FAULTS
from leafwinch.requirement_limits import REQUIREMENTS
from leafwinch.signals import CONTACT_NAMES, NO_SAMPLE, OUTPUT_NAMES
from leafwinch.state_texts import ENDINGS, HELD_REASONS, REFUSALS, WARNINGS
from leafwinch.states import FAULT, HELD, IDLE, STATE_NAMES
from leafwinch_host.page.live import LiveFinder
from leafwinch_host.page.play import Play
from leafwinch_host.texts import STATE_WORDS, fault_sentences
from leafwinch_sim.deck import NO_OBSTACLE_ABOVE_RAD, NO_OBSTACLE_BELOW_RAD

EVENTS_SHOWN = 12
DEGREES = 57.29577951308232
_STATES = {"none": "there is no board", "off": "the board has no power", "starting": "it boots"}


def frame_of(play: Play, live: LiveFinder) -> dict[str, Any]:
    """Return what one bench shows at this moment; see the module's own words."""
    bench = play.bench
    o = bench.observation
    found = live.of(bench.solved, play.mask)
    frame = small_frame(play)
    frame.update(_control(play))
    frame["current_ma"] = None if o.current_ma == NO_SAMPLE else o.current_ma
    frame["supply_mv"] = o.supply_mv
    frame["lever"] = bench.lever.position
    frame["hands"] = {
        "power" if name == "isolated" else name: int(bench.hands.get(name, False))
        for name in bench.hand_switches
    }
    frame["contacts"] = _bits(o.contacts, CONTACT_NAMES)
    frame["outputs"] = _bits(o.outputs, OUTPUT_NAMES)
    frame["live"] = list(found.nets)
    frame["live_wires"] = list(found.wires)
    frame["defects"] = [{"id": d.id, "part": d.part, "cause": d.cause} for d in bench.defects]
    frame["obstacle"] = _obstacle(play)
    frame["events"] = [list(event) for event in play.player.teller.events[-EVENTS_SHOWN:]]
    frame["playing"] = _playing(play)
    return frame


def small_frame(play: Play) -> dict[str, Any]:
    """Return what also the bare bench shows."""
    bench = play.bench
    o = bench.observation
    effective = bench.solved.effective(play.mask)
    return {
        "t_ms": bench.t_ms,
        "angle_deg": round(bench.plant.angle_rad * DEGREES, 3),
        "free_end_mm": round(bench.plant.free_end_m * 1000.0, 2),
        "rope": {
            "slack_mm": round(bench.plant.slack_m * 1000.0, 2),
            "tension_n": round(bench.plant.tension_n, 1),
            "out_mm": round(bench.plant.rope_out_m * 1000.0, 2),
            "turns": round(bench.plant.drum_turns, 4),
        },
        "buffer_n": round(bench.plant.buffer_force_n, 1),
        "moving": bench.plant.moving,
        "current_a": round(bench.plant.current_a, 3),
        "way": o.powered_way,
        "asked": bench.lever.way(),
        "brake_set": bench.plant.brake_set,
        "limits": {name: int(switch.actuated) for name, switch in bench.limits.items()},
        "elements": {name: effective >> bit & 1 for bit, name in enumerate(play.net.element_names)},
        "coils": _coils(play),
        "monitors": _monitors(play),
    }


def state_of(play: Play) -> str:
    """Return the firmware's state by name, or `off`, `starting` or `none`."""
    board = play.bench.board
    if board is None:
        return "none"
    if not board.powered:
        return "starting" if board.boot_ms else "off"
    return str(STATE_NAMES[board.controller.state])


def _control(play: Play) -> dict[str, Any]:
    """Return what the firmware says, in words."""
    bench = play.bench
    o = bench.observation
    state = state_of(play)
    words = {
        "state": state,
        "state_words": STATE_WORDS.get(state) or _STATES[state],
        "fault": "",
        "fault_number": 0,
        "fault_words": "",
        "lamp_code": "",
        "held_words": [],
        "warning_words": "",
        "refused_words": "",
        "ended_words": "",
    }
    if state not in STATE_WORDS or bench.board is None:
        return words
    if o.fault:
        name, _, group, item = FAULTS[o.fault - 1]
        words["fault"] = name
        words["fault_number"] = o.fault
        words["fault_words"] = fault_sentences(o.fault)
        words["lamp_code"] = f"{group}-{item}"
    if state == STATE_NAMES[HELD]:
        words["held_words"] = [
            text for bit, (_, text) in enumerate(HELD_REASONS) if o.held_reasons >> bit & 1
        ]
    if o.warnings:
        words["warning_words"] = WARNINGS[o.warning][1]
    controller = bench.board.controller
    refused = getattr(controller, "refused", 0)
    if refused and state == STATE_NAMES[HELD]:
        words["refused_words"] = REFUSALS[refused][1]
    ended = getattr(controller, "ended", 0)
    if ended and state in (STATE_NAMES[HELD], STATE_NAMES[IDLE], STATE_NAMES[FAULT]):
        words["ended_words"] = ENDINGS[ended][1]
    return words


def _bits(mask: int, names: tuple[str, ...]) -> dict[str, int]:
    return {name: mask >> bit & 1 for bit, name in enumerate(names)}


def _coils(play: Play) -> dict[str, dict[str, float | int]]:
    bench = play.bench
    pulled = {armature.coil.name: armature.mains for armature in bench.armatures}
    return {
        coil.name: {
            "ratio": round(bench.sol.coil_ratio[place], 3),
            "on": int(pulled.get(coil.name, bench.brake_on)),
        }
        for place, coil in enumerate(play.net.coils)
    }


def _monitors(play: Play) -> list[dict[str, Any]]:
    judged = play.player.monitors.judged
    rows = []
    for name, _, _ in REQUIREMENTS:
        broken = play.verdicts.get(name)
        rows.append(
            {
                "name": name,
                "ok": None if name not in judged else broken is None,
                "text": broken.text if broken is not None else "",
                "t_ms": broken.t_ms if broken is not None else None,
            }
        )
    return rows


def _obstacle(play: Play) -> dict[str, float | None]:
    deck = play.bench.plant.deck
    low, high = deck.obstacle_low_rad, deck.obstacle_high_rad
    return {
        "below_deg": round(low * DEGREES, 2) if low > NO_OBSTACLE_BELOW_RAD else None,
        "above_deg": round(high * DEGREES, 2) if high < NO_OBSTACLE_ABOVE_RAD else None,
    }


def _playing(play: Play) -> dict[str, Any] | None:
    opening = play.opening
    if opening.scenario is not None:
        act, of = play.acts, len(opening.scenario.acts)
    elif opening.script is not None:
        of = len(opening.script.steps)
        act = min(of, play.bench.operator.index + 1) if play.playing else of
    else:
        return None
    return {"name": opening.name, "act": act, "of": of, "over": not play.playing}


def fault_table() -> list[dict[str, Any]]:
    """Return the whole table of faults: number, name, words, what to look at, lamp code."""
    return [
        {
            "number": number,
            "name": name,
            "words": FAULT_TEXTS[number - 1][0],
            "look": FAULT_TEXTS[number - 1][1],
            "lamp_code": f"{group}-{item}",
        }
        for number, (name, _, group, item) in enumerate(FAULTS, 1)
    ]
