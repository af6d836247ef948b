"""Three signs at one machine: the cause, the first safe act, the proof that it is gone, and the call to the driller."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import permutations

from exercises.bank.fault_finding import Outcome
from exercises.fleet.envelope import CONE_HEAD, UNWEIGHTED_MUD
from exercises.fleet.rigs import MIDDLE_HOLE
from exercises.model.envelope import Within
from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Derived, Grid, Number, Numbers, Pick, Told
from exercises.model.parts import Choice, Known, Marks, Option, Point, Written
from pitside.cyclones import feed_pressure
from pitside.pumps import head_from_pressure


@dataclass(frozen=True)
class Fault:
    """A fault of a machine: its cause, what it shows, what is done first, what shows that it is mended, and the call.

    call: what the driller is told after the signs: what is done now, what is needed, what is out of use.

    Common practice, no source.
    """

    cause: str
    signs: tuple[str, str, str]
    act: str
    proof: str
    call: str


#: Four faults of each machine that can be told apart by their signs.
MACHINES: dict[str, tuple[Fault, Fault, Fault, Fault]] = {
    "a shale shaker": (
        Fault(
            "Grains of the size of the openings sit fast in the cloth.",
            (
                "The pool of mud has grown from half of the deck to its end, at the same {flow}.",
                "The cloth is whole, and its holes hold grains that do not brush out.",
                "It began when the bit went into a bed of even sand.",
            ),
            "Send the flow to the other shakers; then stop this one, lock it out, and wash or change its screens.",
            "No hole holds a grain, and the pool ends at half of the deck again, at the same flow.",
            "The flow goes to the other shakers; then I stop this one and change or wash its screens.",
        ),
        Fault(
            "A panel is torn.",
            (
                "The sand content of the mud under this shaker went up from 0.25 % to {sand}.",
                "Less rock leaves the end of this deck than an hour ago, at the same rate of drilling.",
                "At one place of the fed end the mud falls through as through a hole.",
            ),
            "Send the flow to the other shakers; then stop this one, lock it out, and plug or change the panel.",
            "The sand content under this shaker is down to that under the others.",
            "The flow goes to the other shakers; then I stop this one and change the panel. Sand went into the pits.",
        ),
        Fault(
            "One of its two motors does not run.",
            (
                "Cuttings wander to one side of the deck and do not walk to its end.",
                "The deck shakes softly and sounds other than the shaker beside it.",
                "One of the two ammeters on its panel reads nothing.",
            ),
            "Send the flow to the other shakers; then stop this one, and have an electrician isolate it and look.",
            "Both ammeters read the same, and a chip of paint walks straight to the end of the deck.",
            "The flow goes to the other shakers, and this one stops. I need the electrician.",
        ),
        Fault(
            "Soft clay sticks to the first panels and closes them.",
            (
                "Grey balls of clay lie in front and do not move on.",
                "The mud runs round the clay in two streams, and one of them goes over the end.",
                "In the last hour {rate} of soft clay were drilled.",
            ),
            "Ask the driller for less flow, keep off the moving deck, spray the fed end, and tilt the deck down.",
            "Clay goes over the end as it comes, and the whole width of the screen is open.",
            "I need less flow until the clay goes over the end.",
        ),
    ),
    "the degasser": (
        Fault(
            "The vacuum is lost.",
            (
                "The vacuum gauge stands near zero; this morning it read as the record says.",
                "Hardly any mud is drawn into the vessel.",
                "Air hisses at the lid.",
            ),
            "Tell the driller that the mud stays gas-cut, keep sparks away, and find the leak from outside the vessel.",
            "The vacuum gauge reads as on the record, and the vessel draws mud.",
            "The mud stays gas-cut until the leak is found. Nobody brings sparks near it.",
        ),
        Fault(
            "The pump that empties the vessel has failed.",
            (
                "The level in the vessel is at the top of its sight glass.",
                "Mud comes out of the vacuum pump.",
                "No mud comes from the outlet of the degasser.",
            ),
            (
                "Tell the driller that the mud stays gas-cut, keep sparks and people away, shut the suction of the "
                "vessel, and stop its vacuum pump."
            ),
            "The level in the sight glass stands still at its mark.",
            "The mud stays gas-cut: I shut the degasser's suction and stop its vacuum pump. Nobody brings sparks near.",
        ),
        Fault(
            "It takes less mud than the well gives, and the rest goes round it.",
            (
                "At its outlet the mud weighs {mud_weight}, as it should, and in the next tank clearly less.",
                "Mud runs over the weir beside the degasser, on to the next tank.",
                "The mud pumps were sped up to {flow} an hour ago.",
            ),
            (
                "Tell the driller that some mud stays gas-cut, keep sparks away, and raise the flow through the "
                "degasser, within its book, until no mud runs on over the weir."
            ),
            "The mud weighs the same at the outlet of the degasser and in the next tank.",
            "I raise the flow through the degasser. If it cannot take all, I need less flow from the well.",
        ),
        Fault(
            "The well itself gives more gas and flows.",
            (
                "The pit level has gone up by {gain} in ten minutes, and nobody added or moved mud.",
                "More mud comes from the flow line at the same strokes of the mud pumps.",
                "The gas reading climbs.",
            ),
            "Call the driller at once: the well comes first, the degasser later. Then keep sparks and people away.",
            "The driller says that the well is shut in or stands still, and the pit level does not move.",
            "I think that the well flows. I keep everybody and every spark away from the tanks.",
        ),
    ),
    "the desilter": (
        Fault(
            "Some apexes are plugged.",
            (
                "Three cones throw nothing at all; the others spray.",
                "The gauge of the header reads {should}, as on the record.",
                "Coarse grit lies in the trough under the bank since a shaker screen tore.",
            ),
            (
                "Have the pump stopped and locked out, see that no pressure is left, and clear the apexes of the dry "
                "cones."
            ),
            "The three cones that were dry spray like the others.",
            "I stop the feed pump and lock it out; the desilter is out until its apexes are clear.",
        ),
        Fault(
            "Too many solids reach the cones for their apexes.",
            (
                "All cones throw thick slow ropes.",
                "The gauge of the header reads {should}, as on the record.",
                "The overflow gets sandier, and the bit drills fast.",
            ),
            "Take load off the bank: ask the driller to drill slower or put spare cones in use, and open the apexes.",
            "Where ropes hung, each cone throws an umbrella with air in its middle.",
            "I put spare cones in use and open the apexes. If they stay in rope, I need less drilling rate.",
        ),
        Fault(
            "The feed pump draws air.",
            (
                "The needle of the header gauge swings between {low} and {should}.",
                "The pump rattles as if it pumped gravel.",
                "The mud in its suction tank stands low, with a whirl over the outlet.",
            ),
            "Slow or stop the feed pump, and ask the driller whether mud may be moved to bring its suction tank up.",
            "The needle of the header gauge stands still.",
            "I stop the feed pump; the desilter is out. May I move mud into its suction tank, and from where?",
        ),
        Fault(
            "The feed pump turns backwards.",
            (
                "The gauge of the header reads {low} and does not swing; the record says {should}.",
                "The pump is quiet, and its suction tank is full.",
                "An electrician changed the cable of its motor this morning.",
            ),
            "Stop the pump, have it isolated, and have its direction checked by the electrician before it runs again.",
            "The arrow on the casing and the shaft agree, and the gauge reads as on the record.",
            "I stop the feed pump and need the electrician; the desilter is out.",
        ),
    ),
    "a centrifuge": (
        Fault(
            "More solids come in than the scroll carries out.",
            (
                "The torque of the scroll has climbed from 40 % to {torque} in fifteen minutes; its alarm is at 80 %.",
                "The solids end throws dry lumps, and the overflow gets darker.",
                "The mud fed to it got heavier when a pill was pumped away.",
            ),
            "Shut the feed, keep bowl and scroll turning, and flush until the torque falls.",
            "Fed again, but less, the torque stays at 40 %.",
            "I have shut its feed and flush it; the bowl keeps turning. Nothing is taken out of the mud now.",
        ),
        Fault(
            "Solids have caked in the bowl on one side.",
            (
                "It shook hard as soon as it was up to speed, before any feed.",
                "At the last stop the feed was still on, and nobody flushed.",
                "The bolts of the skid are tight, and the torque is low.",
            ),
            "Stop the drive, keep everybody away until it stands still, and have it isolated before anybody opens it.",
            "At speed and empty, vibration is at the figure of the record.",
            "I stop it. Nobody goes near it until it stands still and is isolated. It is out for this tour.",
        ),
        Fault(
            "The belts of the main drive slip.",
            (
                "The motor turns at its speed, and the bowl {slow} below its own.",
                "It smells of hot rubber at the guard.",
                "The overflow has got dirtier since noon, at the same feed.",
            ),
            "Shut the feed, flush while the bowl still turns, then stop, wait, and isolate before the guard comes off.",
            "The bowl turns at the speed of the record under feed.",
            "I shut its feed, flush it and stop it; it is out until the belts are seen to.",
        ),
        Fault(
            "It gets no mud any more.",
            (
                "The torque of the scroll has fallen to that of the empty machine.",
                "The solids end throws nothing.",
                "Clear water runs from the overflow, and the pump of the dilution water runs.",
            ),
            "Leave the bowl turning and look at the feed pump and its valves from the tank back to the machine.",
            "Solids fall from the chute again, and the torque is above that of the empty machine.",
            "The bowl keeps turning while I look along its feed line. Nothing is taken out of the mud now.",
        ),
    ),
    "a feed pump of the tanks": (
        Fault(
            "A valve after the pump is shut, and it pumps against it.",
            (
                "Its casing is hot.",
                "The gauge at its outlet stands higher than the record says.",
                "Nothing flows at the machine that it feeds.",
            ),
            "Stop the pump, keep clear of the hot casing, let it cool, and walk the line for the shut valve.",
            "Mud flows at the machine again, and the gauge has come down to the record.",
            "I stop the pump and walk the line for the shut valve; its machine is out until then.",
        ),
        Fault(
            "Its suction is partly blocked.",
            (
                "The gauge at its outlet reads {low} in place of {should}, and swings.",
                "It rattles although its suction tank is full.",
                "Rags and sack paper were fished from that tank yesterday.",
            ),
            "Stop the pump, have it isolated, shut its valves, and have the suction line opened and cleared.",
            "It no longer rattles, and the gauge has come up to the record and stands still.",
            "I stop the pump and have it isolated; its machine is out until the suction is clear.",
        ),
        Fault(
            "Its packing leaks.",
            (
                "Mud runs from the shaft in a stream and lies on the walkway.",
                "The gauge at its outlet reads {should}, as on the record.",
                "The motor draws the amperes of the record.",
            ),
            (
                "Rope off the wet walkway, tell the driller that mud is lost, and have the pump stopped and isolated "
                "before anybody works at the shaft."
            ),
            "The shaft drips as its book allows, and the walkway is dry.",
            "Mud is lost there. I rope off the walkway and want to stop the pump; its machine is out then.",
        ),
        Fault(
            "Its impeller is worn.",
            (
                "The gauge at its outlet reads {low} and does not swing; the record says {should}.",
                "The reading has come down a little each week.",
                "The motor draws fewer amperes than on the record.",
            ),
            "Put the spare pump in use, then stop and isolate this one, and have it opened.",
            "With its new impeller it gives the pressure and draws the amperes of the record.",
            "I go over to the spare pump, then I have this one isolated and opened.",
        ),
    ),
    "a stirrer of the active tanks": (
        Fault(
            "The coupling or the shaft is broken.",
            (
                "The motor turns, and the mud under it lies still.",
                "The motor draws the amperes that it draws without a load.",
                "There was a bang in the night.",
            ),
            "Stop the motor, have it locked out, and tell the driller and the mud engineer that this tank settles.",
            "The mud under it rolls again, and the motor has its load back.",
            "I stop the motor. This tank settles: please take no mud from it until the mud engineer has looked.",
        ),
        Fault(
            "Its blades are buried in settled solids.",
            (
                "The motor trips as soon as it is switched on.",
                "The tank stood without stirring for a day.",
                "A pole finds a firm bed an arm's length below the surface.",
            ),
            (
                "Lock it out, tell the driller and the mud engineer, and on their word loosen the bed with the mud gun "
                "before the motor is tried again."
            ),
            "The pole finds the floor of the tank; then, all clear, the motor starts and stays on.",
            "I lock it out. This tank cannot be used until the bed is loose. May I use the mud gun?",
        ),
        Fault(
            "The level is too low for it.",
            (
                "A deep whirl reaches down to the blades, and the mud foams.",
                "Shaft and grating shake.",
                "The tank is down to a third after a transfer.",
            ),
            "Stop the stirrer, ask the driller whether mud may be moved, and bring the level up.",
            "No whirl reaches the blades, and the foam is gone.",
            "I stop the stirrer. May I move mud into this tank, and from where?",
        ),
        Fault(
            "Its gearbox runs without oil.",
            (
                "The gearbox smokes and is too hot to touch.",
                "Oil lies on the grating around it.",
                "It howls, and the mud rolls as it should.",
            ),
            "Stop the motor, keep people out of the smoke, have it isolated, and mop up the oil before work begins.",
            "The gearbox stays at hand warmth after an hour, and its glass shows oil.",
            "I stop the motor and keep people out of the smoke. I need the mechanic; this tank is not stirred.",
        ),
    ),
    "the mixing hopper": (
        Fault(
            "Its throat is plugged.",
            (
                "Powder stands in the funnel and does not sink.",
                "The hopper pump gives its pressure, and the mud returns to the tank.",
                "The last sack was wet.",
            ),
            "Stop adding, shut the valve under the funnel, and clear the throat with a tool, never with the hand.",
            "The funnel pulls a handful of powder in at once.",
            "Nothing is added until the throat is clear; I have shut the valve under the funnel.",
        ),
        Fault(
            "A valve sends the mud to another tank.",
            (
                "The tank that is being treated falls, though nothing is taken from it.",
                "The tank beside it rises.",
                "The hopper draws well.",
            ),
            "Tell the driller and the mud logger what moved and since when, stop the hopper pump, and walk the line.",
            "Only the treated tank changes its level, by what is added.",
            "I stop the hopper pump and walk the line. Please watch both tanks: what one lost, the other has gained.",
        ),
        Fault(
            "Its pump gives too little pressure for the nozzle.",
            (
                "The gauge before the nozzle reads {low}; the record says {should}.",
                "Powder sinks slowly, and air bubbles come up through it.",
                "A second line was opened from the same pump.",
            ),
            "Stop adding, tell the driller of the second line, have it shut, and go on when the gauge is as on record.",
            "The gauge before the nozzle reads as on the record while powder goes in.",
            "I have stopped adding until the pressure is back. May the second line be shut?",
        ),
        Fault(
            "A chemical burns somebody.",
            (
                "A hand rubs his eyes and cannot open them.",
                "White flakes lie on the wet table, and they hiss.",
                "The torn sack carries the sign for what eats skin.",
            ),
            (
                "Shout for help, lead the person to the eye wash, and rinse for a quarter of an hour while the medic "
                "comes."
            ),
            "The medic has seen the person, and the flakes were taken up by people in the right gear.",
            "We need the medic at the eye wash now. Nothing more is mixed.",
        ),
    ),
}
PLACES = ("one", "two", "three", "four")
ORDERS = tuple(" ".join(order) for order in permutations("0123"))


def _fault(n: Numbers | Known) -> Fault:
    return MACHINES[n.machine][int(n.fault)]


def _place(order: str, fault: str) -> str:
    """Under which letter a machine's fault stands in a drawn order."""
    return PLACES[order.split().index(fault)]


def _notes(n: Numbers) -> str:
    signs = _fault(n).signs
    return "\n".join(f"- {signs[int(place)]}" for place in n.sign_order.split())


def _in_order(kind: str, of: Callable[[Fault], str]) -> tuple[Told, ...]:
    """The four texts of a kind in the order drawn for it."""

    def at(place: int) -> Callable[[Numbers], str]:
        return lambda n: of(MACHINES[n.machine][int(getattr(n, f"{kind}_order").split()[place])])

    return tuple(Told(f"{kind}_{name}", at(place)) for place, name in enumerate(PLACES))


def _options(kind: str, advice: str) -> tuple[Option, ...]:
    return tuple(Option(place, f"{{{kind}_{place}}}", advice) for place in PLACES)


EXERCISE = Exercise(
    title="Signs at a machine",
    level=2,
    version=5,
    outcome=Outcome.DIAGNOSE,
    numbers=(
        Pick("machine", tuple(MACHINES)),
        Pick("fault", tuple("0123")),
        Pick("sign_order", tuple(" ".join(order) for order in permutations("012"))),
        Pick("cause_order", ORDERS),
        Pick("act_order", ORDERS),
        Pick("proof_order", ORDERS),
        Number("flow", Grid(700, 1000, 10, "gal/min"), Grid(160, 226, 2, "m3/h")),
        Number("mud_weight", Grid(8.8, 9.4, 0.1, "lb/gal"), Grid(1050, 1130, 10, "kg/m3")),
        Number("head", Grid(72, 78, 1, "ft"), Grid(22, 23.5, 0.1, "m")),
        Number("share", Grid(0.55, 0.72, 0.01)),
        Number("sand", Grid(0.75, 1.5, 0.25, "%")),
        Number("rate", Grid(80, 140, 5, "ft"), Grid(25, 44, 1, "m")),
        Number("gain", Grid(8, 20, 1, "bbl"), Grid(1.2, 3.2, 0.1, "m3")),
        Number("torque", Grid(82, 92, 1, "%")),
        Number("slow", Grid(180, 400, 10, "rpm")),
        Derived("should", lambda n: feed_pressure(n.mud_weight, n.head), By("psi", "kPa"), By(0, -1)),
        Derived("low", lambda n: n.share * n.should, By("psi", "kPa"), By(0, -1)),
        Told("notes", _notes),
        Told("seen", lambda n: " ".join(_fault(n).signs[int(place)] for place in n.sign_order.split())),
        Told("call", lambda n: _fault(n).call),
        *_in_order("cause", lambda fault: fault.cause),
        *_in_order("act", lambda fault: fault.act),
        *_in_order("proof", lambda fault: fault.proof),
    ),
    envelope=(
        Within("unweighted mud", lambda n: n.mud_weight, UNWEIGHTED_MUD),
        Within("flow", lambda n: n.flow, MIDDLE_HOLE.flow),
        Within("head at the cones", lambda n: head_from_pressure(n.should, n.mud_weight), CONE_HEAD),
    ),
    setting=(
        "Rig Heron 4 drills 12-1/4 in (311 mm) hole with {flow} of unweighted mud of {mud_weight}. You are the "
        "solids-control hand of the tour. The record of the first good day hangs at each machine. At {machine} you "
        "see this:\n\n{notes}\n\nThe rig's own rules, its permits and the maker's book come before this exercise."
    ),
    parts=(
        Choice(
            key="a",
            ask="What is the most likely cause?",
            options=_options("cause", "This cause would show in another way. Compare it with each of the three signs."),
            right=lambda n: _place(n.cause_order, n.fault),
            marks=Marks(2),
            reason="All three signs belong to it; each of the other causes leaves at least one of them unexplained.",
        ),
        Choice(
            key="b",
            ask="What do you do first?",
            options=_options("act", "This is the first act for another fault of this machine. What hurts first here?"),
            right=lambda n: _place(n.act_order, n.fault),
            marks=Marks(2),
            reason=(
                "People first, then the well and the flow, then the machine; and nobody opens what is not locked out."
            ),
        ),
        Choice(
            key="c",
            outcome=Outcome.NEXT_CHECK,
            ask="Which of these shows afterwards that this fault is gone?",
            options=_options("proof", "This shows that another fault is gone. Take the sign that showed this one."),
            right=lambda n: _place(n.proof_order, n.fault),
            marks=Marks(1),
            reason="A fault is gone when the sign that showed it is gone, at the same flow and load.",
        ),
        Written(
            key="d",
            outcome=Outcome.PASS_ON,
            ask="Write down what you say to the driller by radio, in two or three short sentences.",
            points=(
                Point("says who calls and from which machine", 1),
                Point("says what is seen, in plain words, before any guess at the cause", 1),
                Point("says what is needed or done now, and asks the driller to say it back", 1),
            ),
            model=(
                "Driller, this is solids control, at {machine}. I see this: {seen} {call} Please say that back to me."
            ),
        ),
    ),
)
