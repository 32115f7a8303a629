"""Finds the current paths of a control circuit: which items follow each other down a column.

Seen from a coil, the way up is the cheapest way to the supply, where a break contact costs
little and a make contact more: so the safety chain itself is drawn straight, and a key that
bridges a part of it stands beside. Dijkstra's shortest paths.
"""

import heapq
from collections import defaultdict
from collections.abc import Iterable

from leafwinch_wiring.drawing.items import Item
from leafwinch_wiring.netlist import Netlist

UPRIGHT = ("contact", "driver", "coil", "lamp", "buzzer", "load", "poles", "sensor")


def is_upright(item: Item) -> bool:
    """Return whether an item has one pin above and one below."""
    return item.kind in UPRIGHT and len(item.pins) == 2


def cost(item: Item) -> int:
    """Return what it costs a path to lead through an item."""
    if item.kind in ("contact", "poles"):
        return 1 if item.contact().type == "nc" else 3
    return 3 if item.kind == "driver" else 20


class Chains:
    """Nets and items of the control circuit, from which chains are taken one by one."""

    def __init__(self, net: Netlist, items: Iterable[Item]) -> None:
        self.net = net
        self.items = [item for item in items if not item.power]
        self.free = {id(item): item for item in self.items if is_upright(item)}
        self.at: dict[str, list[Item]] = defaultdict(list)
        for item in self.free.values():
            for pin in item.pins:
                self.at[net.net_of[pin.terminal]].append(item)
        self.neighbours: dict[str, list[str]] = defaultdict(list)
        for wire in net.wires:
            self.neighbours[wire.a].append(wire.b)
            self.neighbours[wire.b].append(wire.a)
        self.plus, self.minus = self._supply()
        self.far = self._distances()
        self.rail = self._rail()

    def _supply(self) -> tuple[str, str]:
        """Return the plus and minus terminals of the control supply, or empty texts."""
        for part in self.net.parts.values():
            if part.source is not None and part.source.feeds == "control":
                plus = f"{part.ref}:{part.source.terminals[0]}"
                for contact in part.contacts:
                    if part.source.terminals[0] in contact.terminals:
                        a, b = contact.terminals
                        plus = f"{part.ref}:{b if a == part.source.terminals[0] else a}"
                return plus, f"{part.ref}:{part.source.terminals[1]}"
        return "", ""

    def _distances(self) -> dict[str, int]:
        if not self.plus:
            return {}
        far = {self.net.net_of[self.plus]: 0}
        queue = [(0, self.net.net_of[self.plus])]
        while queue:
            here, name = heapq.heappop(queue)
            if here > far[name]:
                continue
            for item in self.at[name]:
                other = self.other_net(item, name)
                found = here + cost(item)
                if found < far.get(other, found + 1):
                    far[other] = found
                    heapq.heappush(queue, (found, other))
        return far

    def _rail(self) -> str:
        """Return the net, other than the minus, from which most is fed."""
        zero = self.net.net_of.get(self.minus, "")
        sizes: dict[str, int] = defaultdict(int)
        for terminal, name in self.net.net_of.items():
            if name in self.far and name != zero:
                sizes[name] += len(self.neighbours[terminal])
        return max(sizes, key=lambda name: sizes[name]) if sizes else ""

    @property
    def rail_root(self) -> str:
        """Return the terminal at which the supply rail begins: of its fuse, or the plus."""
        for item in self.items:
            if is_upright(item) and self.rail and self.rail != self.net.net_of[self.plus]:
                nets = [self.net.net_of[pin.terminal] for pin in item.pins]
                if self.rail in nets and self.net.net_of[self.plus] in nets:
                    return item.pins[nets.index(self.rail)].terminal
        return self.plus

    def other_net(self, item: Item, name: str) -> str:
        """Return the net at the other end of a two-pin item."""
        first, second = (self.net.net_of[pin.terminal] for pin in item.pins)
        return second if first == name else first

    def take_up(self, name: str) -> list[Item]:
        """Take the free items that lead from a net up to the supply, top first."""
        chain: list[Item] = []
        while name != self.rail and name in self.far:
            found = [
                item
                for item in self.at[name]
                if id(item) in self.free
                and self.far.get(self.other_net(item, name), 10**6) + cost(item) == self.far[name]
            ]
            if not found:
                break
            item = found[0]
            del self.free[id(item)]
            if self.net.net_of[item.pins[1].terminal] != name:
                item.flip()
            chain.insert(0, item)
            name = self.other_net(item, name)
        return chain

    def take_down(self, name: str) -> list[Item]:
        """Take the free items that lead from a net down to the minus, top first."""
        zero = self.net.net_of.get(self.minus, "")
        chain: list[Item] = []
        while name != zero:
            found = [item for item in self.at[name] if id(item) in self.free]
            if not found:
                break
            item = found[0]
            del self.free[id(item)]
            if self.net.net_of[item.pins[0].terminal] != name:
                item.flip()
            chain.append(item)
            name = self.other_net(item, name)
        return chain

    def take(self, item: Item) -> Item:
        """Take one free item, its pin nearer to the supply above."""
        self.free.pop(id(item), None)
        above, below = (self.far.get(self.net.net_of[pin.terminal], 10**6) for pin in item.pins)
        zero = self.net.net_of.get(self.minus, "")
        upside_down = self.net.net_of[item.pins[0].terminal] == zero
        if upside_down or (above > below and self.net.net_of[item.pins[1].terminal] != zero):
            item.flip()
        return item

    def way(self, start: str, end: str) -> list[str]:
        """Return the terminals between two of one net, along its wires."""
        before: dict[str, str] = {start: ""}
        queue = [start]
        for here in queue:
            if here == end:
                break
            for following in self.neighbours[here]:
                if following not in before:
                    before[following] = here
                    queue.append(following)
        found: list[str] = []
        here = before.get(end, "")
        while here and here != start:
            found.insert(0, here)
            here = before[here]
        return found

    def order(self, root: str) -> dict[str, int]:
        """Return the place of each terminal of a net in a walk along its wires from a root.

        Devices come before the strip's further terminals, so that what hangs on one
        terminal of the strip stays together.
        """
        strips = {
            pin.terminal for item in self.items if item.kind == "terminal" for pin in item.pins
        }
        seen: dict[str, int] = {}
        queue = [root]
        while queue:
            here = queue.pop()
            if here in seen:
                continue
            seen[here] = len(seen)
            following = [name for name in self.neighbours[here] if name not in seen]
            queue += [name for name in reversed(following) if name in strips]
            queue += [name for name in reversed(following) if name not in strips]
        return seen
