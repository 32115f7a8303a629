"""The state diagram, drawn from the reference model's machine."""

from transitions.extensions import HierarchicalGraphMachine

from leafwinch_sim.reference_model.machine import STATES, TRANSITIONS

# The export also colours its states, which a reader's own theme does better.
_LEFT_OUT = ("---", "State Machine", "classDef", "Class ")


class _Nothing:
    """A model that does nothing: only its machine is drawn."""


def state_diagram() -> str:
    """Return the machine as a mermaid state diagram."""
    machine = HierarchicalGraphMachine(
        _Nothing(),
        states=STATES,
        transitions=TRANSITIONS,
        initial="held",
        auto_transitions=False,
        graph_engine="mermaid",
    )
    text = machine.get_combined_graph().draw(None)
    lines = [line.rstrip() for line in str(text).splitlines()]
    return "\n".join(line for line in lines if line and not line.lstrip().startswith(_LEFT_OUT))
