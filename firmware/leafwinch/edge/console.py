"""The console: plain words in, lines out. Nothing here can move anything.

It only reads the core. What changes the board (settings, a learned envelope, loading) needs the
drive at rest, the control neutral and the service link fitted, and ends in a request to the loop,
which restarts the board through its ordinary power-up. While anything is commanded the console
answers nothing but that it is busy.
"""

from leafwinch.contactors import MIRRORS, OFF
from leafwinch.edge.lines import Line, fixed
from leafwinch.numbers import TICKS_MASK, TYPE_CHECKING, const
from leafwinch.signals import LOWER_OFF, LOWER_PATH, RAISE_OFF, RAISE_PATH, SERVICE_LINK

if TYPE_CHECKING:
    from collections.abc import Iterator

    from leafwinch.controller import Controller
    from leafwinch.edge.keeper import Keeper
    from leafwinch.edge.lines import Port
    from leafwinch.edge.settings_store import SettingsStore
    from leafwinch.edge.slots import Files
    from leafwinch.edge.trace import Trace

# What the console asks of the loop.
NO_REQUEST = const(0)
RESTART = const(1)
LOADING = const(2)

COMMAND = const(60)  # longest command
AT_REST = const(16)  # characters taken in one poll
MOVING = const(2)
UNREAD_MS = const(3000)  # an answer that nobody reads so long is dropped

_OFFS = RAISE_OFF | LOWER_OFF
_CONTROL = RAISE_OFF | LOWER_OFF | RAISE_PATH | LOWER_PATH


class Console:
    """Takes commands and sends their answers, a line a pass.

    busy: 1 while there is something to send; then it is to be called in every pass.
    """

    def __init__(
        self,
        controller: "Controller",
        keeper: "Keeper",
        store: "SettingsStore",
        port: "Port",
        files: "Files",
        trace: "Trace",
    ) -> None:
        self.controller = controller
        self.keeper = keeper
        self.port = port
        self.line = Line()
        self.store = store
        self.files = files
        self.trace = trace
        self.staged: "dict[str, int]" = {}  # settings to be changed, by name
        self.moving_line = fixed("E", "busy: the drive moves")
        self.garbage_line = fixed("E", "not a command: up to 60 printable characters")
        self.typed = bytearray(COMMAND)
        self.length = 0  # characters typed; beyond COMMAND the line is garbage
        self.answer: "Iterator[bool] | None" = None
        self.sent = 0  # lines of this answer
        self.made = 0  # 1: the answer's next line is made and not sent yet
        self.refusal: "bytearray | None" = None
        self.busy = 0
        self.request = NO_REQUEST
        self.stuck = 0  # 1: the port was not ready at since_ms
        self.since_ms = 0
        self.lines = 0  # lines answered so far, modulo 2^16

    def step(self) -> int:
        """Take some characters or send a line; return a request to the loop, mostly none."""
        controller = self.controller
        if controller.contactors.phase != OFF or controller.cause.is_open:
            self._moving()
            return NO_REQUEST
        if self.refusal is not None:
            self._send(self.refusal)
        elif self.answer is not None:
            self._go_on(self.answer)
        elif self.request and not self.keeper.want:
            return self._requested()
        elif self._listen(AT_REST):
            self._obey()
        self.busy = 1 if self.refusal is not None or self.answer is not None else 0
        return NO_REQUEST

    def _moving(self) -> None:
        """Drop an answer under way, and refuse what comes; allocates nothing."""
        if self.request == LOADING:
            self.request = NO_REQUEST
        if self.answer is not None:
            self.answer = None
            self.refusal = self.moving_line
        if self.refusal is not None:
            self._send(self.refusal)
        elif self._listen(MOVING):
            self.length = 0
            self.refusal = self.moving_line
        self.busy = 1 if self.refusal is not None else 0

    def _listen(self, most: int) -> bool:
        """Take up to so many characters; True once a line that is not empty has ended."""
        port = self.port
        for _ in range(most):
            code = port.receive()
            if code < 0:
                return False
            if code == 13 or code == 10:
                if self.length:
                    return True
            elif self.length >= COMMAND or code < 32 or code > 126:
                self.length = COMMAND + 1
            else:
                self.typed[self.length] = code
                self.length += 1
        return False

    # --- sending ---------------------------------------------------------------------

    def _send(self, line: bytearray) -> bool:
        """Send a line if the port is ready; give everything up if it was not for long."""
        if self.port.ready():
            self.port.write(line)
            self.stuck = 0
            self.refusal = None
            self.lines = (self.lines + 1) & 0xFFFF
            return True
        now = self.controller.last_ms
        if not self.stuck:
            self.stuck = 1
            self.since_ms = now
        elif (now - self.since_ms) & TICKS_MASK >= UNREAD_MS:
            self.stuck = 0
            self.refusal = None
            self.answer = None
        return False

    def _go_on(self, answer: "Iterator[bool]") -> None:
        """Send the answer's next line; a step of the answer may also have none to send."""
        if not self.made:
            try:
                if not next(answer):
                    return
            except StopIteration:
                self.answer = None
                self.refusal = self.line.start("Z").word(self.sent).sealed()
                return
            except OSError:
                self.answer = None
                self.refuse("the board's files can't be read")
                return
            if self.line.kind() == "E":  # the answer ends with a refusal
                self.answer = None
                self.refusal = self.line.sealed()
                return
            self.made = 1
        if self._send(self.line.sealed()):
            self.made = 0
            self.sent += 1

    def refuse(self, text: str) -> None:
        """Have a refusal sent."""
        self.refusal = self.line.start("E").word(text).sealed()

    # --- obeying ---------------------------------------------------------------------

    def _obey(self) -> None:
        """Begin the answer to the line typed."""
        length = self.length
        self.length = 0
        if length > COMMAND:
            self.refusal = self.garbage_line
            return
        words = bytes(self.typed[:length]).decode().split()
        if not words:
            return
        self.sent = 0
        self.made = 0
        try:
            # Loaded for an answer only, and dropped when garbage is collected: it is large.
            from leafwinch.edge.answers import Answers

            self.answer = Answers(self).to(words)
        except MemoryError:
            self.refuse("no room for an answer now, ask again")
            return
        if self.answer is None:
            self.refuse("unknown command, 'help' lists them")

    def forbidden(self) -> str:
        """Return why nothing may be changed now, or ''."""
        controller = self.controller
        seen = controller.inputs.seen
        if not controller.inputs.supplied():
            return "no 24 V supply"
        if not controller.at_rest() or seen & MIRRORS != MIRRORS:
            return "not at rest"
        if seen & _CONTROL != _OFFS:
            return "control not neutral"
        if not seen & SERVICE_LINK:
            return "service link not fitted"
        return ""

    def _requested(self) -> int:
        """Hand the request over, once all is written and as long as it is allowed."""
        request = self.request
        if not self.controller.inputs.ready():
            return NO_REQUEST  # the journal was written, and the contacts are read anew
        if request == LOADING:
            why = self.forbidden()
            if why:
                self.request = NO_REQUEST
                self.refuse("refused: " + why)
                return NO_REQUEST
        if not self.controller.at_rest():
            return NO_REQUEST
        self.request = NO_REQUEST
        return request
