"""Rope drum with layers: rope length against turns, radius at a number of turns.

Turns are counted from the bare drum in the sense of raising. Negative turns mean that
the rope has run out and winds on the other way, so that lowering pulls the rope in.
Within one layer every turn takes the circumference of the rope's centre line.
"""

import math


class Drum:
    """A drum of given bare radius, rope diameter and turns in a layer."""

    __slots__ = ("core_m", "layer_lengths", "rope_m", "turns_per_layer")

    LAYERS = 12
    """Layers that are worked out; a site with more is refused."""

    def __init__(self, core_m: float, rope_m: float, turns_per_layer: float) -> None:
        self.core_m: float = core_m
        self.rope_m: float = rope_m
        self.turns_per_layer: float = turns_per_layer
        lengths = [0.0]
        for layer in range(self.LAYERS):
            circumference = 2.0 * math.pi * (core_m + rope_m * (layer + 0.5))
            lengths.append(lengths[-1] + circumference * turns_per_layer)
        self.layer_lengths: tuple[float, ...] = tuple(lengths)

    def radius_m(self, turns: float) -> float:
        """Return the radius at which the rope leaves the drum, in metres."""
        layer = int(abs(turns) / self.turns_per_layer)
        return self.core_m + self.rope_m * (min(layer, self.LAYERS - 1) + 0.5)

    def wound_m(self, turns: float) -> float:
        """Return the rope on the drum in metres; the same for turns the wrong way."""
        turns = abs(turns)
        layer = min(int(turns / self.turns_per_layer), self.LAYERS - 1)
        radius = self.core_m + self.rope_m * (layer + 0.5)
        part = turns - layer * self.turns_per_layer
        return self.layer_lengths[layer] + 2.0 * math.pi * radius * part

    def turns_for(self, wound_m: float) -> float:
        """Return the turns that hold a length of rope, 0 or more metres."""
        layer = 0
        while layer < self.LAYERS - 1 and self.layer_lengths[layer + 1] <= wound_m:
            layer += 1
        radius = self.core_m + self.rope_m * (layer + 0.5)
        part = (wound_m - self.layer_lengths[layer]) / (2.0 * math.pi * radius)
        return layer * self.turns_per_layer + part
