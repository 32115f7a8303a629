"""What the tool reads off the board and compares by itself: program, settings, envelope.

Nothing here can move the deck: the console reads, and it takes settings only with the service
link fitted, the drive at rest and the control in the middle.
"""

from leafwinch.edge.learning import TRAVELS_MIN
from leafwinch.requirement_limits import R1_OVERRUN_MM
from leafwinch.settings_schema import SCHEMA
from leafwinch_host.board import answers, loader
from leafwinch_host.board.commissioned import netlist_hash, site_hash
from leafwinch_host.board.link import Refused
from leafwinch_host.commissioning import temporary
from leafwinch_host.commissioning.results import FAIL, PASS, Measured, Outcome, at_most, with_unit
from leafwinch_host.commissioning.table import Context
from leafwinch_host.firmware_build import known_programs
from leafwinch_sim.sizing.stopping import UP, after, worst_overrun

CURRENT_SHARE = 1.1
MEASURING_MM = 3.0  # what a mark and a ruler are off by; common practice, no source
LEARNED = "envelope_learned"
UNITS = {row[0]: row[1] for row in SCHEMA}


def program(context: Context) -> Outcome:
    """Compare the board's files with fresh builds, by SHA-256."""
    link = context.line.link
    about = answers.about(link)
    found = answers.program_files(link)
    context.facts["program"] = about.program
    context.facts["files"] = {name: digest for name, (_size, digest) in found.items()}
    rows = [Measured("program", about.program), Measured("files of the program", len(found))]
    nearest: list[str] = []
    for built in known_programs():
        wrong = loader.differences(built, found)
        if not wrong:
            kind = built.target.words if built.target else "plain sources"
            rows.append(Measured("equal to a fresh build for", kind))
            rows.append(Measured("SHA-256 of the program", built.digest))
            return Outcome(PASS, "", tuple(rows))
        if not nearest or len(wrong) < len(nearest):
            nearest = wrong
    rows.append(Measured("files that differ", len(nearest), "", "none", False))
    return Outcome(FAIL, f"the board's program is another one: {nearest[0]}", tuple(rows))


def identity(context: Context) -> Outcome:
    """Compare the hashes of site and netlist with those on the board."""
    about = answers.about(context.line.link)
    rows = tuple(
        Measured(name, f"{found:08X}", "", f"{wanted:08X}", found == wanted)
        for name, found, wanted in (
            ("hash of the site", about.site, site_hash(context.site)),
            ("hash of the netlist", about.netlist, netlist_hash(context.net)),
        )
    )
    wrong = [row.name for row in rows if not row.within]
    if wrong:
        return Outcome(FAIL, f"{' and '.join(wrong)}: the board belongs to another one", rows)
    return Outcome(PASS, "", rows)


def settings(context: Context, learned: bool = False) -> Outcome:
    """Compare every setting on the board with the site's; `learned`: with an envelope."""
    wanted = wanted_settings(context)
    if learned:
        wanted[LEARNED] = 1
    else:
        del wanted[LEARNED]  # a board that has learned before keeps its envelope
    rows = _on_board(context, wanted)
    wrong = [row for row in rows if not row.within]
    if wrong:
        first = wrong[0]
        return Outcome(
            FAIL,
            f"{len(wrong)} settings differ from the site's: {first.name} is {first.shown()}, "
            f"required is {first.required}",
            rows,
        )
    return Outcome(PASS, "", rows)


def _on_board(context: Context, wanted: dict[str, int]) -> tuple[Measured, ...]:
    """Read the board's settings; return each wanted one beside what it is there."""
    found = answers.settings(context.line.link)["settings"]
    return tuple(
        Measured(
            name,
            found.get(name, "missing"),
            UNITS[name],
            with_unit(value, UNITS[name]),
            found.get(name) == value,
        )
        for name, value in wanted.items()
    )


def wanted_settings(context: Context) -> dict[str, int]:
    """Return every setting as it should be on the board, by name."""
    return {row[0]: int(getattr(context.settings, row[0])) for row in SCHEMA}


def trip_level(context: Context) -> Outcome:
    """Judge whether a motor that stands still, on a low supply, would trip at all."""
    stall_ma = 1000 * float(context.worked.stalled_low.current_a)
    trip = context.settings.trip_ma
    row = at_most("trip level against standstill on a low supply", trip, round(stall_ma), "mA")
    if row.within:
        return Outcome(PASS, "", (row,))
    return Outcome(
        FAIL,
        f"the trip is set too high: {trip} mA, but a motor that stands still takes "
        f"{stall_ma:.0f} mA",
        (row,),
    )


def overrun_limit(context: Context, way: int, at_end: bool = False) -> tuple[float, str]:
    """Return the longest overrun in mm of a sound brake, and why: R1, or what sizing says.

    A brake that is just fitted must be sound, so the number of a worn one is no excuse.

    Args:
        context: the installation.
        way: UP or DOWN.
        at_end: after the top working limit, at its place; else wherever it is worst.
    """
    worked = context.worked
    paces = worked.up_paces if way == UP else worked.down_paces
    if at_end and way == UP:
        sized = after(worked.kind("end"), max(paces, key=lambda pace: pace.angle_deg))
    else:
        sized = worst_overrun(worked.kind("release"), paces)
    own = sized.point_mm + MEASURING_MM
    if own < R1_OVERRUN_MM:
        return round(own, 1), f"sized {sized.point_mm:.0f} mm with a sound brake, and measuring"
    return float(R1_OVERRUN_MM), "R1"


def highest_running_ma(context: Context) -> int:
    """Return the highest running current that is sound, in mA: sized and 10 %, or the setting's.

    The 10 % are for sensor and supply; common practice, no source.
    """
    sized = 1000 * CURRENT_SHARE * context.worked.highest_running_a()
    return min(round(sized), context.settings.run_max_ma)


def sent(context: Context, values: dict[str, int]) -> Outcome:
    """Send settings, keep them, and wait until the board has restarted with them.

    Raises:
        BadInput: the board refuses, or does not come back.
    """
    line = context.line
    before_ms = line.time_ms()
    line.link.ask("discard")  # nothing that somebody staged before may slip in
    for name, value in values.items():
        line.link.ask(f"change {name} {value}")
    line.link.ask("keep")
    line.trace.note(f"settings sent: {values}")
    line.wait_restart(before_ms)
    line.must_run()
    rows = _on_board(context, values)
    if all(row.within for row in rows):
        return Outcome(PASS, "", rows)
    return Outcome(FAIL, "the board did not take the settings", rows)


def restored(context: Context, names: tuple[str, ...]) -> Outcome:
    """Put settings of these names back to the site's values and prove that all are equal."""
    wanted = wanted_settings(context)
    found = answers.settings(context.line.link)["settings"]
    if any(found.get(name) != wanted[name] for name in names):
        sent(context, {name: wanted[name] for name in names})
    outcome = settings(context)
    differ = tuple(row for row in outcome.measured if not row.within)
    if outcome.verdict == PASS:
        temporary.forget(context)
        return Outcome(PASS, "", (Measured("settings put back", len(names)),))
    return Outcome(FAIL, f"the temporary settings are still there: {outcome.why}", differ)


def armed(context: Context) -> Outcome:
    """Let the board record the current of full travels from now on."""
    context.line.link.ask("learn drop")
    context.line.link.ask("learn arm")
    return Outcome(PASS, "", (Measured("recording", "armed"),))


def accepted(context: Context) -> Outcome:
    """Accept the recorded envelope and read it back after the restart."""
    line = context.line
    told = dict(row.split(" ", 1) for row in line.link.ask("learn") if " " in row)
    travels = [int(word) for word in told.get("travels", "0 0").split()]
    rows = [
        Measured(
            "full travels recorded, up and down",
            " ".join(map(str, travels)),
            "",
            f"at least {TRAVELS_MIN} each",
            min(travels) >= TRAVELS_MIN,
        )
    ]
    if min(travels) < TRAVELS_MIN:
        return Outcome(FAIL, "the board has recorded too few full travels", tuple(rows))
    before_ms = line.time_ms()
    line.link.ask("learn accept")
    line.trace.note("envelope accepted")
    line.wait_restart(before_ms)
    line.must_run()
    read = answers.settings(line.link)
    rows.append(
        Measured(
            LEARNED, read["settings"].get(LEARNED, 0), "", "1", read["settings"].get(LEARNED) == 1
        )
    )
    for name, values in read["envelope"].items():
        rows.append(Measured(f"envelope {name}", " ".join(map(str, values)), "mA"))
    wrong = [row.name for row in rows if not row.within]
    if wrong:
        return Outcome(FAIL, f"{wrong[0]} did not come back as accepted", tuple(rows))
    return Outcome(PASS, "", tuple(rows))


def frozen(context: Context) -> Outcome:
    """Prove that settings are as they should be and that the board takes no others now."""
    compared = settings(context, learned=True)
    if compared.verdict != PASS:
        return compared
    context.facts["counters"] = answers.counters(context.line.link)
    name, value = "trip_ma", context.settings.trip_ma
    try:
        context.line.link.ask(f"change {name} {value}")
    except Refused as error:
        why = str(error).removesuffix(".")
        rows = (
            *compared.measured,
            Measured("a change without the service link", why, "", "refused"),
        )
        return Outcome(PASS, "", rows)
    context.line.link.ask("discard")
    return Outcome(
        FAIL,
        "the board takes settings although the service link is removed",
        (Measured("a change without the service link", "taken", "", "refused", False),),
    )
