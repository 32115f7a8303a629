"""The error of the compiled build. It imports nothing, so that no plain module comes first."""


class BadBuild(Exception):  # noqa: N818
    """The compiled build cannot be made or used; the message is one sentence."""
