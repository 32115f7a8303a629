"""Serial ports: which there are, which is meant, and opening one without restarting a board."""

import time
from typing import Any

import serial
from serial.tools import list_ports

from leafwinch_wiring.errors import BadInput

BAUD = 115_200
READ_S = 0.05
WRITE_S = 2.0
BUSY_S = 2.0
BUSY = "lock"  # in the words of the library where somebody else has the port


def found_ports() -> list[tuple[str, str]]:
    """Return the serial ports of this machine that may be boards: name and description."""
    ports = []
    for port in list_ports.comports():
        if port.vid is not None:
            ports.append((str(port.device), str(port.description)))
    return sorted(ports)


def chosen_port(name: str | None) -> str:
    """Return the port that is meant: the one named, or the only one there is.

    Names are those of the system: COM3, /dev/ttyACM0, /dev/cu.usbmodem101, /dev/pts/4.

    Raises:
        BadInput: none or several were found and none was named.
    """
    if name is not None:
        return name
    ports = found_ports()
    if len(ports) == 1:
        return ports[0][0]
    if not ports:
        raise BadInput("No board was found on a USB port; plug it in, or name it with --port.")
    raise BadInput(
        f"{len(ports)} ports were found ({', '.join(name for name, _ in ports)}); "
        "say with --port which one is meant."
    )


def open_port(name: str) -> Any:
    """Open a port: exclusively, with time-outs, DTR and RTS set alike before it opens.

    A pico sends only while DTR is set; the restart circuit of an esp32 acts when the two differ.

    Raises:
        BadInput: it can't be opened.
    """
    port = serial.Serial()
    port.port = name
    port.baudrate = BAUD
    port.timeout = READ_S
    port.write_timeout = WRITE_S
    port.exclusive = True
    port.dtr = True
    port.rts = True
    until = time.monotonic() + BUSY_S
    while True:
        try:
            port.open()
            return port
        except (serial.SerialException, OSError, ValueError) as error:
            # Whoever had it, another tool or the system itself, may just be letting go.
            if BUSY not in str(error):
                raise BadInput(f"Port {name} can't be opened: {plain(error)}.") from None
            if time.monotonic() > until:
                raise BadInput(
                    f"Port {name} can't be opened: another program has it, such as a second "
                    "leafwinch; end that one first."
                ) from None
        time.sleep(READ_S)


def plain(error: BaseException) -> str:
    """Return an error's words in one line without its number."""
    text = getattr(error, "strerror", None) or str(error)
    return " ".join(str(text).split()).rstrip(".")
