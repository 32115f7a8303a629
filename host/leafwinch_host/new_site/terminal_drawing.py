"""Drawings of where to measure, in plain letters for a terminal."""

_SIDE = r"""
 wall                  mid hinge (N: its pin)
  |                       o
  |              A    .'  |  '.    B
  |   (P: one     .'      |      '.    (P: one
  |    leaf)  .'          |          '.   leaf)
  |       .'              o roller       '.
  |   .'  angle E or F    (kicker)           '.
  |]o====================rope=================(O) wheels, axle and
  |  wall hinge                               moving sheave (Q; M: tread)
  |_ buffer ]
   \
    \  G: rope from the drum to the sheave at the wall
   (drum)
  E: angle of leaf A when the folded deck touches the wall; F: when it meets the buffer
"""

_FLAT = r"""
 wall   leaf A           mid hinge          leaf B
  |]o=======================o=======================(O)
  |  '-.                    |   ^                .-'  wheels
  |      '- . _             |   | D        _ . -'
  |      rope   ' - . _     |   v    _ . - '
  |                     ' --o-- '
  |                         roller of the kicker
  D: from the middle of the hinge's pin down to the middle of the rope at the roller
"""

_DRUM = r"""
        |<----- J ----->|
       _                 _      ---
      | |_______________| |      ^
      | |ooooooo        | |  ----|--
      | |               | |   ^  |
   ===| |               | |   H  K      H: bare drum, under the rope
      | |               | |   v  |      K: flanges
      | |_______________| |  ----|--    J: between the flanges
      | |               | |      v
      |_|               |_|     ---
      o  L: rope, over two opposite strands
"""

_PLATE = r"""
   .------------------------------.
   | ~ 230 V   50 Hz      3.1 A   |   voltage, frequency, current
   | line pull 3 kN   7 m/min     |   pull and speed of ONE rope, first layer
   | S3 25 %   120 c/h            |   duty
   '------------------------------'
   The figures are an example. Read the plate with the winch isolated.
"""

_DRAWINGS = {"side": _SIDE, "flat": _FLAT, "drum": _DRUM, "plate": _PLATE}


def terminal_drawing(name: str, letter: str = "") -> str:
    """Return a drawing of at most 90 columns.

    Args:
        name: side, flat, drum or plate.
        letter: what to look for in it, or empty.
    """
    drawing = _DRAWINGS[name].strip("\n")
    return f"{drawing}\n  Here it is letter {letter}." if letter else drawing
