"""No library that the tests load may change what a signal does to their process."""

import signal


def test_a_broken_pipe_ends_no_worker() -> None:
    # Python ignores it and raises BrokenPipeError, which `leafwinch` answers by itself.
    assert signal.getsignal(signal.SIGPIPE) is signal.SIG_IGN
