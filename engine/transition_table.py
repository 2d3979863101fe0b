"""The one transition table: every change of state of the lens, the panels and the override.

All transitions stand in `TABLE` below, and nowhere else. A new one is a new row there; the diagram
in DEVELOPERS.md is drawn from it. Three small machines share one model, the `Core` of a State:

lens      unknown     nobody has said where it stands, or we lost track of it
          resting     it stands at `preset`
          travelling  it is on its way to `preset`
panels    still       nobody is asked to do anything
          asked       a prompt is open
          reminded    it is open, and the person has been reminded
          refused     somebody said no or did not answer: not asked again for a while
override  rules       the rules choose the look
          person      a person has taken over (the override)

Which event reaches which machine:

lens      a lens report (`lens`), the outcome of a recall (`outcomes`), the end of the travel's time
          (`deadlines`), a restart (`handlers`), and our own recall (`reconcile`)
panels    a panel report (`panel_reports`) and a person who wants panels (`override_requests`), an
          answer, and who is free to help (`answers`), a prompt that is opened or withdrawn
          (`reconcile`), its reminder and its end (`deadlines`), a technician at work (`handlers`),
          another title and the session's end (`titles`)
override  a person who takes over or gives back (`override_requests`), takes back what moved
          (`undo`) or wants the lens found (`lens_search`), a travel that nobody ordered (`lens`),
          the end of the time, title or session that the override was to last for (`titles`)

All other events (source, playback, title, signal, readings) change data, and no machine.

Who wins a conflict: safety, then a travel under way, then fitted panels, then what a person wants,
then pace, then the rules. This table holds the second: `recall` has no row out of `travelling`.
`reconcile` holds the others, in the order of its tests.

A guard only reads the model, so a trigger that is refused has changed nothing. What else has to
change with the state is changed by the caller, after the trigger was accepted.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, Literal, NamedTuple, Protocol

from transitions import Machine, Transition

if TYPE_CHECKING:
    from collections.abc import Callable

    from transitions import EventData

    from engine.events import PlaybackState
    from engine.room import Room


MachineName = Literal["lens", "panels", "override"]
LensState = Literal["unknown", "resting", "travelling"]
PanelsState = Literal["still", "asked", "reminded", "refused"]
OverrideState = Literal["rules", "person"]
MachineState = LensState | PanelsState | OverrideState
Trigger = Literal[
    "recall",
    "sets_off",
    "arrives",
    "time_is_over",
    "stays",
    "loses_track",
    "ask",
    "remind",
    "stand",
    "withdraw",
    "refuse",
    "free",
    "start_afresh",
    "take",
    "give_back",
]


class MachineModel(Protocol):
    """What the machines read and write: any object with these attributes."""

    lens: LensState
    panels: PanelsState
    override: OverrideState
    playback: PlaybackState
    pause_over: bool


def nothing_plays(model: MachineModel, _room: Room) -> bool:
    """Tell whether nobody is watching anything."""
    return model.playback == "stopped" or model.pause_over


def may_be_found(model: MachineModel, room: Room) -> bool:
    """Tell whether a lens of unknown place may be sent off: nothing plays, or a person wants it."""
    return model.override == "person" or nothing_plays(model, room)


def lens_is_silent(_model: MachineModel, room: Room) -> bool:
    """Tell whether only the clock can say that the lens has arrived."""
    return not room.projector.lens.reports


class TransitionRow(NamedTuple):
    """One line of the table; `guard` may forbid it."""

    machine: MachineName
    trigger: Trigger
    source: MachineState
    target: MachineState
    guard: Callable[[MachineModel, Room], bool] | None = None


TABLE: Final = (
    TransitionRow("lens", "recall", "resting", "travelling"),
    TransitionRow("lens", "recall", "unknown", "travelling", may_be_found),
    TransitionRow("lens", "sets_off", "unknown", "travelling"),
    TransitionRow("lens", "sets_off", "resting", "travelling"),
    TransitionRow("lens", "sets_off", "travelling", "travelling"),
    TransitionRow("lens", "arrives", "unknown", "resting"),
    TransitionRow("lens", "arrives", "resting", "resting"),
    TransitionRow("lens", "arrives", "travelling", "resting"),
    TransitionRow("lens", "time_is_over", "travelling", "resting", lens_is_silent),
    TransitionRow("lens", "stays", "travelling", "resting"),
    TransitionRow("lens", "loses_track", "unknown", "unknown"),
    TransitionRow("lens", "loses_track", "resting", "unknown"),
    TransitionRow("lens", "loses_track", "travelling", "unknown"),
    TransitionRow("panels", "ask", "still", "asked"),
    TransitionRow("panels", "remind", "asked", "reminded"),
    TransitionRow("panels", "stand", "asked", "still"),
    TransitionRow("panels", "stand", "reminded", "still"),
    TransitionRow("panels", "withdraw", "asked", "still"),
    TransitionRow("panels", "withdraw", "reminded", "still"),
    TransitionRow("panels", "refuse", "still", "refused"),
    TransitionRow("panels", "refuse", "asked", "refused"),
    TransitionRow("panels", "refuse", "reminded", "refused"),
    TransitionRow("panels", "free", "refused", "still"),
    TransitionRow("panels", "start_afresh", "still", "still"),
    TransitionRow("panels", "start_afresh", "asked", "still"),
    TransitionRow("panels", "start_afresh", "reminded", "still"),
    TransitionRow("panels", "start_afresh", "refused", "still"),
    TransitionRow("override", "take", "rules", "person"),
    TransitionRow("override", "take", "person", "person"),
    TransitionRow("override", "give_back", "person", "rules"),
)

MACHINES: Final[dict[MachineName, tuple[MachineState, ...]]] = {
    "lens": ("unknown", "resting", "travelling"),
    "panels": ("still", "asked", "reminded", "refused"),
    "override": ("rules", "person"),
}
"""The machines with their states, the first being where a new room starts."""


class _BareTransition(Transition):
    """A transition without callbacks: looking for them would take most of its time."""

    def execute(self, event_data: EventData) -> bool:
        """Change the state where the guard allows it."""
        if self.dest is None or not self._eval_conditions(event_data):
            return False
        event_data.machine.set_state(self.dest, event_data.model)
        return True


class _BareMachine(Machine):
    transition_cls = _BareTransition


def build_machine(name: MachineName) -> Machine:
    """Build one machine from its rows of the table."""
    return _BareMachine(
        model=None,
        states=list(MACHINES[name]),
        initial=MACHINES[name][0],
        transitions=[
            {
                "trigger": row.trigger,
                "source": row.source,
                "dest": row.target,
                "conditions": [row.guard] if row.guard else [],
            }
            for row in TABLE
            if row.machine == name
        ],
        auto_transitions=False,
        model_attribute=name,
    )


_EVENTS: Final = {name: build_machine(name).events for name in MACHINES}
_LEGAL: Final = frozenset((row.machine, row.trigger, row.source) for row in TABLE)


def fire(model: MachineModel, room: Room, machine: MachineName, trigger: Trigger) -> bool:
    """Fire one trigger; False, and nothing changed, where no row allows it."""
    if (machine, trigger, getattr(model, machine)) not in _LEGAL:
        return False
    return bool(_EVENTS[machine][trigger].trigger(model, model, room))


def diagram() -> str:
    """Draw the table as a Mermaid state diagram, one composite state a machine."""
    lines = ["stateDiagram-v2"]
    for name, states in MACHINES.items():
        lines += [f"    state {name} {{", f"        [*] --> {name}_{states[0]}"]
        lines += [f"        {name}_{state} : {state}" for state in states]
        for row in TABLE:
            if row.machine == name:
                guard = f" [{row.guard.__name__}]" if row.guard else ""
                ends = f"{name}_{row.source} --> {name}_{row.target}"
                lines.append(f"        {ends} : {row.trigger}{guard}")
        lines.append("    }")
    return "\n".join(lines) + "\n"
