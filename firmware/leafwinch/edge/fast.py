"""The fast emitters of MicroPython, which under CPython are plain functions.

A function marked `micropython.viper` works on machine integers and raw bytes; the same source runs
under CPython, where arrays are indexed as they are.
"""

from leafwinch.numbers import TYPE_CHECKING

if TYPE_CHECKING:
    from array import array
    from collections.abc import Callable
    from typing import TypeAlias, TypeVar

    F = TypeVar("F", bound=Callable[..., object])
    ptr8: TypeAlias = bytearray
    ptr16: TypeAlias = "array[int]"
    ptr32: TypeAlias = "array[int]"

    class micropython:  # noqa: N801 - stands for the module of this name
        """The two emitters."""

        @staticmethod
        def viper(function: F) -> F:
            """Mark a function for machine integers."""
            ...

        @staticmethod
        def native(function: F) -> F:
            """Mark a function for machine code."""
            ...
else:
    ptr8 = ptr16 = ptr32 = lambda thing: thing
    try:
        import micropython
    except ImportError:

        class micropython:  # noqa: N801, D101
            viper = native = staticmethod(lambda function: function)
