"""Reads quantities written as text with a unit, such as "1.25 m" or "55 kg"."""

import math
import re
from typing import Annotated, Any, Final

import pint
from pydantic import BeforeValidator

_REGISTRY: Final[pint.UnitRegistry[Any]] = pint.UnitRegistry(cache_folder=None)
_NUMBER_AND_UNIT = re.compile(r"\s*([-+]?\d+(?:\.\d+)?(?:[eE][-+]?\d+)?)\s*([^\d\s.].*?)\s*")

# An example for every unit in use, so that an error can show what is allowed.
_EXAMPLES: Final[dict[str, str]] = {
    "%": "25 %",
    "A": "2.5 A",
    "F": "16 uF",
    "H": "0.2 mH",
    "Hz": "50 Hz",
    "N": "12 kN",
    "N*m": "2.5 N*m",
    "N*s/m": "400 N*s/m",
    "N/m": "150 N/mm",
    "N/mm**2": "1770 N/mm**2",
    "Pa": "140 Pa",
    "V": "230 V",
    "V*s/rad": "0.03 V*s/rad",
    "W": "20 W",
    "deg": "80 deg",
    "degC": "30 degC",
    "kg": "55 kg",
    "kg*m**2": "0.0008 kg*m**2",
    "kg/m**3": "560 kg/m**3",
    "m": "1.25 m",
    "m**2": "1.2 m**2",
    "mm": "40 mm",
    "mm**2": "2.5 mm**2",
    "ms": "25 ms",
    "ohm": "9.5 ohm",
    "turn": "3.5 turn",
}


def parse_quantity(value: object, unit: str) -> float:
    """Return the number of `unit` in a text such as "1.25 m".

    Args:
        value: the text as read from a file; anything else is refused.
        unit: the unit of the result, one of those with an example above.

    Raises:
        ValueError: with a clause that names what was found and what is allowed.
    """
    wanted = f"a number with a unit such as '{_EXAMPLES[unit]}'"
    if not isinstance(value, str):
        raise ValueError(f"found {value!r}, but allowed is text holding {wanted}")
    match = _NUMBER_AND_UNIT.fullmatch(value)
    if match is None:
        raise ValueError(f"found {value!r}, but allowed is {wanted}")
    try:
        number = float(match.group(1))
        # Built from both, since a temperature has an offset and can't be multiplied.
        quantity = _REGISTRY.Quantity(number, _REGISTRY.parse_units(match.group(2)))
        result = float(quantity.to(unit).magnitude)
    except pint.DimensionalityError:
        raise ValueError(
            f"found {value!r}, which has the wrong unit; allowed is {wanted}"
        ) from None
    except Exception:
        # The unit parser raises many kinds of error for unknown or garbled units.
        raise ValueError(f"found {value!r}, whose unit is not known; allowed is {wanted}") from None
    if not math.isfinite(result):
        raise ValueError(f"found {value!r}, which is not a finite number; allowed is {wanted}")
    return result


def _reader(unit: str) -> BeforeValidator:
    def read(value: object) -> float:
        return parse_quantity(value, unit)

    return BeforeValidator(read)


Metres = Annotated[float, _reader("m")]
Millimetres = Annotated[float, _reader("mm")]
SquareMetres = Annotated[float, _reader("m**2")]
SquareMillimetres = Annotated[float, _reader("mm**2")]
Kilograms = Annotated[float, _reader("kg")]
KilogramSquareMetres = Annotated[float, _reader("kg*m**2")]
KilogramsPerCubicMetre = Annotated[float, _reader("kg/m**3")]
Newtons = Annotated[float, _reader("N")]
NewtonsPerSquareMillimetre = Annotated[float, _reader("N/mm**2")]
NewtonMetres = Annotated[float, _reader("N*m")]
NewtonsPerMetre = Annotated[float, _reader("N/m")]
NewtonSecondsPerMetre = Annotated[float, _reader("N*s/m")]
Pascals = Annotated[float, _reader("Pa")]
Degrees = Annotated[float, _reader("deg")]
Turns = Annotated[float, _reader("turn")]
Milliseconds = Annotated[float, _reader("ms")]
Volts = Annotated[float, _reader("V")]
Amperes = Annotated[float, _reader("A")]
Ohms = Annotated[float, _reader("ohm")]
Henries = Annotated[float, _reader("H")]
Farads = Annotated[float, _reader("F")]
Hertz = Annotated[float, _reader("Hz")]
Watts = Annotated[float, _reader("W")]
VoltSecondsPerRadian = Annotated[float, _reader("V*s/rad")]
Percent = Annotated[float, _reader("%")]
Celsius = Annotated[float, _reader("degC")]
