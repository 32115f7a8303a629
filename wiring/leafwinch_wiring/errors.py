"""The one error class for bad input from a person or a file."""


class BadInput(Exception):  # noqa: N818 - it names a person's input, not a program's error
    """Something a person wrote cannot be used.

    The message is one clear sentence that names the file, line or key, what was
    found there and what is allowed. Commands print it and exit with code 2.
    """
