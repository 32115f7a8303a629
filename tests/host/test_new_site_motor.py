"""The motor guessed from a plate, and the drawing of where to measure."""

import math
import re
import xml.etree.ElementTree as ET
from dataclasses import replace

import pytest

from leafwinch_host.new_site import motor_guess
from leafwinch_host.new_site.answers import Answers
from leafwinch_host.new_site.measure_drawing import HEIGHT, LEGEND, WIDTH, measure_drawing
from leafwinch_host.new_site.questions import BY_KEY, QUESTIONS
from leafwinch_host.new_site.terminal_drawing import terminal_drawing
from leafwinch_sim.plant_parts import circuit_of
from leafwinch_sim.site_schema import CapacitorRun, PermanentMagnet

KINDS = ("mains", "battery")
PER_MINUTE = 2.0 * math.pi / 60.0


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("knows_ratio", [True, False])
def test_the_demo_plate_gives_the_demo_winch_back(kind: str, knows_ratio: bool) -> None:
    plate = motor_guess.reference_plate(kind)
    drive = motor_guess.guess(kind, plate if knows_ratio else replace(plate, ratio=None))
    site = motor_guess.reference(kind)
    assert drive.ratio == pytest.approx(site.gear.ratio)
    for key, value in site.motor.model_dump().items():
        got = getattr(drive.motor, key)
        assert got == (value if isinstance(value, str) else pytest.approx(value)), key
    assert (drive.torque, drive.drum_torque) == pytest.approx((1.0, 1.0))
    amps = motor_guess.likely_current_a(kind, plate.voltage_v, plate.pull_n, plate.speed_m_per_s)
    assert amps == pytest.approx(plate.current_a)


def test_reference_plate_by_hand() -> None:
    # 4 poles, 50 Hz, slip 0.1: 1350/min; ratio 30, drum 46 mm and half a rope of 4 mm.
    mains = motor_guess.reference_plate("mains")
    assert mains.speed_m_per_s == pytest.approx(1350 * PER_MINUTE / 30 * 0.025)
    # 12 V, 0.031 V s/rad, 0.11 ohm; 15 A; drags 0.02 N m and 0.15 / 52 N m; ratio 52 at 65 %.
    battery = motor_guess.reference_plate("battery")
    drag = 0.02 + 0.15 / 52
    assert battery.pull_n == pytest.approx((0.031 * 15 - drag) * 52 * 0.65 / 0.022)
    free = (12 - 0.11 * drag / 0.031) / 0.031
    assert battery.speed_m_per_s == pytest.approx(free / 52 * 0.022)


@pytest.mark.parametrize(("voltage", "frequency"), [(230.0, 50.0), (115.0, 60.0), (240.0, 50.0)])
@pytest.mark.parametrize("share", [0.5, 1.0, 2.0])
def test_guessed_mains_motor_takes_the_current_of_its_plate(
    voltage: float, frequency: float, share: float
) -> None:
    plate = motor_guess.reference_plate("mains")
    amps = plate.current_a * share
    plate = replace(plate, ratio=None, voltage_v=voltage, frequency_hz=frequency, current_a=amps)
    drive = motor_guess.guess("mains", plate)
    assert isinstance(drive.motor, CapacitorRun)
    site = motor_guess.reference("mains")
    supply = site.supply.model_copy(update={"voltage": voltage, "frequency": frequency})
    circuit = circuit_of(site.model_copy(update={"supply": supply}), drive.motor)
    main, aux = circuit.currents(0.1, voltage, voltage)
    assert abs(main + aux) == pytest.approx(amps)
    # Torque times speed over voltage times current is that of the demo motor: similarity.
    demo = circuit_of(site, site.motor) if isinstance(site.motor, CapacitorRun) else circuit
    demo_main, demo_aux = demo.currents(0.1, 230.0, 230.0)
    wanted = demo.torque_nm(0.1, demo_main, demo_aux) * drive.torque
    assert circuit.torque_nm(0.1, main, aux) == pytest.approx(wanted)
    assert drive.ratio * plate.drum_rad_s == pytest.approx(1350 * PER_MINUTE * frequency / 50)


def test_poles_follow_a_known_gear_ratio() -> None:
    plate = motor_guess.reference_plate("mains")
    for ratio, poles in ((60.0, 2), (30.0, 4), (20.0, 6), (27.0, 4)):
        assert motor_guess.poles_for(replace(plate, ratio=ratio)) == poles
    assert motor_guess.poles_for(replace(plate, ratio=None)) == 4
    with pytest.raises(ValueError, match="allowed"):
        motor_guess.poles_for(replace(plate, ratio=200.0))


def test_two_poles_have_half_the_torque() -> None:
    plate = motor_guess.reference_plate("mains")
    drive = motor_guess.guess("mains", replace(plate, ratio=60.0))
    assert drive.torque == pytest.approx(0.5)
    assert drive.motor.inertia == pytest.approx(0.5 * motor_guess.reference("mains").motor.inertia)


@pytest.mark.parametrize("voltage", [12.0, 24.0])
@pytest.mark.parametrize("ratio", [None, 100.0])
def test_guessed_battery_motor_turns_as_its_plate_says(voltage: float, ratio: float | None) -> None:
    plate = motor_guess.reference_plate("battery")
    plate = replace(plate, voltage_v=voltage, speed_m_per_s=0.08, current_a=40.0, ratio=ratio)
    drive = motor_guess.guess("battery", plate)
    motor = drive.motor
    assert isinstance(motor, PermanentMagnet)
    # U = R I + k w of a permanent-magnet motor, textbook: without load R I is the drag's alone.
    drag = motor.drag + 0.15 / 52 * drive.torque
    free = (voltage - motor.resistance * drag / motor.constant) / motor.constant
    assert free == pytest.approx(0.08 / plate.radius_m * drive.ratio)
    demo = motor_guess.reference("battery").motor
    assert isinstance(demo, PermanentMagnet)
    # The same share of the voltage is lost in the winding, and the same time constant.
    assert motor.resistance * 40.0 / voltage == pytest.approx(demo.resistance * 15.0 / 12.0)
    wanted = demo.inductance / demo.resistance
    assert motor.inductance / motor.resistance == pytest.approx(wanted)
    assert drive.torque == pytest.approx(motor.constant * 40.0 / (demo.constant * 15.0))


def test_help_draws_every_letter() -> None:
    for question in QUESTIONS:
        if question.drawing:
            drawing = terminal_drawing(question.drawing, question.letter)
            assert drawing.isascii()
            assert max(map(len, drawing.splitlines())) <= 90
            body = drawing.rsplit("\n", 1)[0]
            assert question.letter in body, question.key


NAMESPACE = "{http://www.w3.org/2000/svg}"


def _boxes(svg: str) -> list[tuple[str, float, float, float, float]]:
    """Return words and bounding box of every text; letters are at most 0.66 of their size wide."""
    found = []
    for text in ET.fromstring(svg).iter(f"{NAMESPACE}text"):
        size, words = float(text.attrib["font-size"]), text.text or ""
        width = 0.6 * size * len(words)
        left = float(text.attrib["x"])
        left -= {"middle": width / 2, "end": width}.get(text.attrib.get("text-anchor", ""), 0.0)
        y = float(text.attrib["y"])
        found.append((words, left, y - 0.8 * size, left + width, y + 0.2 * size))
    return found


def test_drawing_is_readable_and_no_words_overlap() -> None:
    long = Answers({question.key: ("9" * 120,) for question in QUESTIONS})
    for answers in (Answers(), long):
        svg = measure_drawing(answers)
        assert min(float(size) for size in re.findall(r'font-size="([\d.]+)"', svg)) >= 11
        boxes = _boxes(svg)
        for words, left, top, right, bottom in boxes:
            assert 0 <= left < right <= WIDTH, words
            assert 0 <= top < bottom <= HEIGHT, words
        for n, (words, left, top, right, bottom) in enumerate(boxes):
            for other, left_2, top_2, right_2, bottom_2 in boxes[n + 1 :]:
                apart = right <= left_2 or right_2 <= left or bottom <= top_2 or bottom_2 <= top
                assert apart, (words, other)


def test_drawing_has_every_letter_and_keeps_hostile_words_words() -> None:
    lettered = {name for name, _, _ in LEGEND}
    assert {question.letter for question in QUESTIONS if question.letter} == lettered
    for name, _, keys in LEGEND:
        for key in keys:
            assert BY_KEY[key].letter == name
    drawn = [words for words, *_ in _boxes(measure_drawing(Answers()))]
    for name in lettered - {"C"}:
        assert drawn.count(name) == 2, name  # at the drawing and in the legend
    svg = measure_drawing(Answers({"width": ('<script>"&',), "leaf_length": ("1.25 m",)}))
    shown = [words for words, *_ in _boxes(svg)]
    assert '<script>"&' in shown
    assert "1.25 m" in shown
