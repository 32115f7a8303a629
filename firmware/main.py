"""What the board runs first: outputs low, then the program, and outputs low again.

It must work with no program in the flash, or half of one, so it knows the output pins itself
(a test compares them with leafwinch/edge/pins.py) and imports nothing of it before that.

A new program is loaded beside the old one: into next/leafwinch, checked there, and then
leafwinch goes to previous/leafwinch and next/leafwinch to leafwinch. Power may fail
at any moment of that. The file trial marks a new program that has not proven itself.
"""

# The stubs leave the parameters of os without a type.
# pyright: reportUnknownMemberType=false

import os
import sys

import machine

OUTPUTS = (4, 5, 6, 7, 15, 16) if sys.platform == "esp32" else (17, 18, 19, 20, 21, 22)
TRIAL_BOOTS = 2  # so often a new program may start without proving itself
FOLDER = 0x4000  # bit of a file's mode


def outputs_low() -> None:
    """Drive every output low; the value is given with the direction, so that no old level shows."""
    for number in OUTPUTS:
        machine.Pin(number, machine.Pin.OUT, value=0)


outputs_low()


def size_of(name: str) -> int:
    """Return the size of a file, 0 of a folder, -1 where there is neither."""
    try:
        return os.stat(name)[6]
    except OSError:
        return -1


def write(name: str, text: str, how: str) -> None:
    """Write a text file anew (how "w") or at its end ("a")."""
    with open(name, how) as file:
        file.write(text)


def remove_folder(name: str) -> None:
    """Remove a folder and what is in it; nothing where there is none."""
    if size_of(name) < 0:
        return
    for entry in os.listdir(name):
        path = name + "/" + entry
        if os.stat(path)[0] & FOLDER:
            remove_folder(path)
        else:
            os.remove(path)
    os.rmdir(name)


def fall_back(reason: str) -> bool:
    """Put the previous program in the place of this one; False where there is none.

    The reason is left in the file fallback for the journal. After power failed between the two
    renames, main() does the second one.
    """
    if size_of("previous/leafwinch") < 0:
        return False
    write("fallback", reason, "w")
    write("restart", "", "w")
    if size_of("failed") < 0:
        os.mkdir("failed")
    remove_folder("failed/leafwinch")
    os.rename("leafwinch", "failed/leafwinch")
    os.rename("previous/leafwinch", "leafwinch")
    if size_of("trial") >= 0:
        os.remove("trial")
    return True


def main() -> None:
    """Go to the prompt if that was asked for, else set right what was interrupted, and run."""
    if size_of("loading") >= 0:
        os.remove("loading")
        return
    if size_of("leafwinch") < 0 and size_of("previous/leafwinch") >= 0:
        os.rename("previous/leafwinch", "leafwinch")
    boots = size_of("trial")
    if boots >= TRIAL_BOOTS:
        if fall_back("trial"):
            machine.reset()
        os.remove("trial")
    elif boots >= 0:
        write("trial", ".", "a")
    try:
        from leafwinch.edge import hardware, start
    except Exception as error:
        if fall_back(type(error).__name__):
            machine.reset()
        raise
    start.run(hardware.this_board())


try:
    main()
finally:
    outputs_low()
