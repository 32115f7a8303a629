"""How long it takes from the command to the first fold, as a newcomer does it.

`python -m tests.page.first_fold` starts `leafwinch bench`, opens the printed address in Chromium
without a window, begins the first experiment, holds the button until the deck stands, and prints
when each of these came, and what the browser's console said.
"""

import signal
import subprocess
import sys
import time
from pathlib import Path

from tests.page.eyes import Eyes, chromium

COMMAND = Path(sys.executable).with_name("leafwinch")
FOLD_S = 60.0


def main() -> int:
    """Fold once; return 0 if the deck stood and the console said nothing."""
    begun_s = time.monotonic()

    def tell(what: str) -> None:
        print(f"{time.monotonic() - begun_s:6.1f} s  {what}", flush=True)

    with chromium() as browser:
        page = browser.new_page(viewport={"width": 1280, "height": 900})
        begun_s = time.monotonic()
        words = [str(COMMAND), "bench", "--site", "workshop-pit", "--no-browser"]
        with subprocess.Popen(words, stdout=subprocess.PIPE, text=True) as server:
            assert server.stdout is not None
            try:
                url = server.stdout.readline().strip()
                tell("the address is printed")
                eyes = Eyes(page, url)
                tell("the page shows the deck")
                eyes.ready()
                tell("the board is ready")
                eyes.hold()
                tell("the button is held and the motor runs")
                eyes.until("bench.frame.state !== 'raising'", FOLD_S)
                tell(f"the deck stands at {eyes.ask('bench.frame.angle_deg')}°")
                eyes.page.mouse.up()
            finally:
                server.send_signal(signal.SIGINT)
                server.wait()
        print(f"the browser's console said {len(eyes.complaints)} errors and warnings")
    return 1 if eyes.complaints else 0


if __name__ == "__main__":
    sys.exit(main())
