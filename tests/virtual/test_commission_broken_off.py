"""What a commissioning that broke off leaves behind, and what the next one does about it."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from leafwinch_host.board import answers
from leafwinch_host.commissioning import temporary
from leafwinch_host.commissioning.record import Record, StepRecord, load_record
from leafwinch_host.commissioning.results import FAIL, PASS
from leafwinch_host.commissioning.sitting import Sitting
from leafwinch_host.commissioning.steps import STEPS
from leafwinch_host.commissioning.watching_travel import FIRST_CURRENT
from tests.virtual.commission_bench import BenchBoard, QuietScreen, roomy_site, sitting_on
from tests.virtual.commission_person import Person

RUNNING_MA = 1100.0
LEAVES_AT_ONCE = {"welcome:begin": "q"}


class Killed(BaseException):
    """Stands for the end of the process: nothing of the program runs afterwards."""


class Dies(Person):
    """A person at a PC that dies while the current trip is tested."""

    def glance(self, asked: str) -> str | None:
        if asked == "trip:tripped":
            raise Killed
        return super().glance(asked)


class Leaves(Person):
    """A person who leaves while the current trip is tested."""

    def glance(self, asked: str) -> str | None:
        return "q" if asked == "trip:tripped" else super().glance(asked)


@pytest.fixture
def board(tmp_path: Path) -> Iterator[BenchBoard]:
    made = BenchBoard(roomy_site("workshop-pit"), tmp_path / "flash")
    made.pass_time(1)
    yield made
    made.close()


def record_up_to(step: str) -> Record:
    """Return a record in which every step before one has passed."""
    record = Record(about={}, values={f"{FIRST_CURRENT} raise": RUNNING_MA})
    for row in STEPS[: [each.id for each in STEPS].index(step)]:
        record.steps[row.id] = StepRecord(row.id, row.title, row.limits, PASS, times=1)
    return record


def trip_ma(sitting: Sitting) -> int:
    """Ask the board for its trip."""
    return int(answers.settings(sitting.context.line.link)["settings"]["trip_ma"])


def said(sitting: Sitting) -> list[str]:
    """Return what the screen of a sitting has shown."""
    assert isinstance(sitting.screen, QuietScreen)
    return sitting.screen.said


def kept(folder: Path) -> Record:
    """Return the record as it is on disk."""
    record = load_record(folder)
    assert record is not None
    return record


def test_a_crash_amid_the_trip_step_is_told_and_put_right_first(
    board: BenchBoard, tmp_path: Path
) -> None:
    wanted = board.site.settings["trip_ma"]
    folder = tmp_path / "r"
    first = sitting_on(board, folder, Dies(board), record_up_to("trip"))
    with pytest.raises(Killed):
        first.run()
    assert trip_ma(first) < RUNNING_MA  # the stricter trip is still on the board

    second = sitting_on(board, folder, Person(board, typed=LEAVES_AT_ONCE), kept(folder))
    assert not second.run()
    assert trip_ma(second) == wanted
    shown = said(second)
    assert shown[0] == "0/0 Temporary settings of a test are still on the board"
    assert "The step 'trip' was broken off and left its settings: " in shown[1]
    assert f"trip_ma is 770 mA on the board, the site's is {wanted}" in shown[1]
    assert shown.index("Commissioning goes on") > shown.index("pass ")

    after = kept(folder)
    assert temporary.KEY not in after.about
    assert after.about[temporary.PUT_BACK][0]["step"] == "trip"
    assert "trip" not in after.steps  # it never came to a verdict, so it is done again
    third = sitting_on(board, folder, Person(board, typed=LEAVES_AT_ONCE), after)
    assert not third.run()
    assert said(third)[0] == "Commissioning goes on"


def test_who_leaves_amid_the_trip_step_leaves_no_settings_behind(
    board: BenchBoard, tmp_path: Path
) -> None:
    sitting = sitting_on(board, tmp_path / "r", Leaves(board), record_up_to("trip"))
    assert not sitting.run()
    assert trip_ma(sitting) == board.site.settings["trip_ma"]
    assert temporary.KEY not in kept(tmp_path / "r").about


def test_without_the_service_link_the_settings_stay_and_the_record_says_so(
    board: BenchBoard, tmp_path: Path
) -> None:
    class Forgetful(Leaves):
        """A person who takes the service link out and leaves."""

        def glance(self, asked: str) -> str | None:
            if asked == "trip:tripped":
                self.board.do("remove link")
            return super().glance(asked)

    folder = tmp_path / "r"
    first = sitting_on(board, folder, Forgetful(board), record_up_to("trip"))
    assert not first.run()
    assert trip_ma(first) < RUNNING_MA
    assert kept(folder).about[temporary.KEY]["step"] == "trip"
    person = Person(board, typed={"left_over:begin": "q"})
    second = sitting_on(board, folder, person, kept(folder))
    assert not second.run()
    assert kept(folder).about[temporary.KEY]["step"] == "trip"


def test_a_note_of_settings_that_never_reached_the_board_is_dropped(
    board: BenchBoard, tmp_path: Path
) -> None:
    record = record_up_to("trip")
    record.about[temporary.KEY] = {"step": "trip", "values": {"trip_ma": 770}}
    sitting = sitting_on(board, tmp_path / "r", Person(board, typed=LEAVES_AT_ONCE), record)
    assert not sitting.run()
    assert said(sitting)[0] == "Commissioning goes on"
    assert temporary.KEY not in record.about


def test_settings_that_somebody_changed_since_are_told_first_and_fail_their_step(
    tmp_path: Path,
) -> None:
    site = roomy_site("workshop-pit")
    board = BenchBoard(site, tmp_path / "flash", on_board={"pause_ms": 900})
    try:
        board.pass_time(1)
        person = Person(board)
        sitting = sitting_on(board, tmp_path / "r", person, record_up_to("top_travel"))
        assert not sitting.run()
    finally:
        board.close()
    shown = said(sitting)
    assert shown[0] == "Commissioning goes on"
    assert "Failed so far, and done again: Settings on the board." in shown
    assert person.failed == "settings"  # before anything moves
    row = sitting.record.steps["settings"]
    assert row.verdict == FAIL
    assert row.before == [FAIL]
    assert "pause_ms" in row.why
