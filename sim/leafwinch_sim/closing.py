"""What several things with an end to be closed have in common: their use in a with statement."""

from types import TracebackType
from typing import Self


class Closing:
    """Something that is closed at the end of the with statement it is used in."""

    def close(self) -> None:
        """Give back what is held; each kind says what that is."""

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()
