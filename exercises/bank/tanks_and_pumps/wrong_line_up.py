"""A tank plan as a table of suctions and discharges: the wrong line, what comes of it, and how it is put right."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from exercises.bank.tanks_and_pumps import Outcome
from exercises.fleet.envelope import PUMP_RATE
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import Grid, Number, Numbers, Pick, Told
from exercises.model.parts import Choice, Known, Marks, Option, Point, Written

#: Tanks in the order of the mud, from the flow line to the mud pumps.
TANKS = ("trap", "gas", "sand", "silt", "bowl", "mix", "suction")
NAMES = {
    "trap": "sand trap, under the shakers",
    "gas": "degasser tank",
    "sand": "desander tank",
    "silt": "desilter tank",
    "bowl": "centrifuge tank",
    "mix": "mixing tank",
    "suction": "suction tank of the mud pumps",
}
#: Each machine with the tank that it should take from and the tank that it should give to.
LINES = {
    "degasser": ("gas", "sand"),
    "desander": ("sand", "silt"),
    "desilter": ("silt", "bowl"),
    "centrifuge": ("bowl", "mix"),
    "hopper": ("mix", "mix"),
}
MACHINES = {"degasser": "Degasser", "desander": "Desander", "desilter": "Desilter", "centrifuge": "Centrifuge",
            "hopper": "Hopper pump"}  # fmt: skip


@dataclass(frozen=True)
class Error:
    """One line of the plan that is wrong, what comes of it, and how it is put right. Common practice, no source."""

    machine: str
    line: tuple[str, str]
    comes: str
    mend: str


ERRORS = {
    "gas-back": Error("degasser", ("gas", "gas"), "gas", "discharge"),
    "gas-late": Error("degasser", ("silt", "silt"), "gas", "both"),
    "sand-back": Error("desander", ("sand", "sand"), "sand", "discharge"),
    "sand-far": Error("desander", ("sand", "mix"), "round", "discharge"),
    "silt-early": Error("desilter", ("sand", "bowl"), "sand", "suction"),
    "silt-far": Error("desilter", ("silt", "suction"), "round", "discharge"),
    "bowl-late": Error("centrifuge", ("mix", "suction"), "barite", "both"),
    "bowl-mixed": Error("centrifuge", ("mix", "mix"), "barite", "suction"),
    "hopper-early": Error("hopper", ("silt", "silt"), "barite", "both"),
    "hopper-away": Error("hopper", ("mix", "bowl"), "barite", "discharge"),
}
COMES = {
    "gas": "Mud that is still gas-cut reaches the pumps that feed the cones, and their head falls.",
    "sand": "Sand reaches the small cones of the desilter and plugs them.",
    "round": "The mud is given on too far: a machine that should still clean it is passed by.",
    "barite": "What the hopper has mixed in is taken out again by a machine.",
}
MENDS = {
    "suction": "Its suction alone: take from the right tank.",
    "discharge": "Its discharge alone: give to the right tank.",
    "both": "Both its suction and its discharge.",
}
OTHER_LINE = "This line is right. Each machine takes from its own tank and gives to the next one downstream."
OTHER_FAULT = "Follow the mud on from the wrong line: what does it carry, and which machine gets it next?"
OTHER_MEND = "Compare both ends of the wrong line with the list of tanks."


def _error(n: Numbers | Known) -> Error:
    return ERRORS[n.error]


def _number(n: Numbers | Known, tank: str) -> int:
    """The number painted on a tank: on some rigs they are counted from the flow line, on others from the pumps."""
    place = TANKS.index(tank)
    return place + 1 if n.counted == "flow line" else len(TANKS) - place


def _line(machine: str) -> Callable[[Numbers], str]:
    def line(n: Numbers) -> str:
        wrong = _error(n)
        takes, gives = wrong.line if wrong.machine == machine else LINES[machine]
        return f"| {MACHINES[machine]} | tank {_number(n, takes)} | tank {_number(n, gives)} |"

    return line


def _tanks(n: Numbers) -> str:
    ordered = sorted(TANKS, key=lambda tank: _number(n, tank))
    return "\n".join(f"- tank {_number(n, tank)}: {NAMES[tank]}" for tank in ordered)


EXERCISE = Exercise(
    title="The wrong line",
    level=1,
    version=2,
    outcome=Outcome.LINE_UP,
    numbers=(
        Pick("error", tuple(ERRORS)),
        Pick("counted", ("flow line", "mud pumps")),
        Number("flow", Grid(400, 900, 10, "gal/min"), Grid(90, 204, 2, "m3/h")),
        Number("hour", Grid(1, 11, 1, "h")),
        Told("tanks", _tanks),
        *(Told(f"{machine}_line", _line(machine)) for machine in MACHINES),
        Told("wrong", lambda n: MACHINES[_error(n).machine].lower()),
        Told(
            "takes",
            lambda n: (
                f"suction from tank {_number(n, LINES[_error(n).machine][0])}, discharge to tank "
                f"{_number(n, LINES[_error(n).machine][1])}"
            ),
        ),
    ),
    envelope=(Within("flow from the well", lambda n: n.flow, PUMP_RATE),),
    setting=(
        "You look over the tanks of rig Heron 4, {hour} into the tour. The well gives {flow}, and there is some gas in "
        "the unweighted mud. The tanks carry painted numbers, counted from the {counted}:\n\n{tanks}\n\nYou walk the "
        "lines and write down what each machine takes from and gives to:\n\n| Machine | Takes from | Gives to |\n"
        "| --- | --- | --- |\n"
        + "\n".join(f"{{{machine}_line}}" for machine in MACHINES)
        + "\n\nOne line is wrong. The sand trap runs over a weir into the degasser tank; the low lines between the "
        "other tanks are open. The hopper is right when it takes from the mixing tank and gives back to it. No valve "
        "is moved before the driller and the mud logger know, for each move shows as a change of pit level."
    ),
    parts=(
        Choice(
            key="a",
            ask="Which machine is lined up wrongly?",
            options=tuple(Option(machine, title, OTHER_LINE) for machine, title in MACHINES.items()),
            right=lambda n: _error(n).machine,
            marks=Marks(2),
            reason="It should have: {takes}. The other machines take from their own tank and give to the next one.",
        ),
        Choice(
            key="b",
            ask="Follow the mud that this machine moves, from tank to tank. What goes wrong with it?",
            options=tuple(Option(one, text, OTHER_FAULT) for one, text in COMES.items()),
            right=lambda n: _error(n).comes,
            marks=Marks(1),
            reason=(
                "Coarse before fine, gas out before the first centrifugal pump, new material in after the last machine."
            ),
        ),
        Choice(
            key="c",
            ask="What has to be changed at this machine?",
            options=tuple(Option(one, text, OTHER_MEND) for one, text in MENDS.items()),
            right=lambda n: _error(n).mend,
            marks=Marks(1),
            reason="For the {wrong} the plan has to read: {takes}.",
        ),
        Written(
            key="d",
            ask=(
                "Write what you say and do, step by step, from now until the line is right. Three to five short lines."
            ),
            points=(
                Point("tells the driller and the mud logger before a valve is moved, and what level will change", 1),
                Point(
                    "opens the new way before the old one is shut, or stops the pump first, so that none runs blocked",
                    1,
                ),
                Point("walks the line again and watches the levels of both tanks afterwards", 1),
            ),
            model=(
                "I tell the driller and the mud logger that I change the line of the {wrong} and which tanks will "
                "move. I stop its pump, set the valves ({takes}), and have a second person check them. I start the "
                "pump again and watch both levels and the gauge. I write it in the log and mark the valves."
            ),
        ),
    ),
)
