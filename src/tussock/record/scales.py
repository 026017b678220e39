"""What drivers judge, and what their marks from 1 to 10 mean: one scale for each attribute, anchored in words.

Common practice, no source: ten marks with every second one in words, so that two drivers mean the same by a 6. An even
mark lies between its neighbours.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, TypeAlias

Attribute: TypeAlias = Literal[
    "overall",
    "comfort",
    "control",
    "small_bumps",
    "big_hits",
    "body_float",
    "pitch",
    "head_toss",
    "steering_return",
    "corrugation_hold",
    "crosswind",
]
"""What drivers judge."""

WORST, BEST = 1, 10
MARK_WORDS = "a mark is a whole number from 1 (worst) to 10 (best)"


@dataclass(frozen=True, kw_only=True, slots=True)
class Scale:
    """One attribute: what people call it, what to ask oneself, and what the marks mean."""

    title: str
    asks: str
    anchors: Mapping[int, str]

    def words(self, mark: int) -> str:
        """Say what a mark means; an even one lies between its neighbours.

        >>> SCALES["pitch"].words(9)
        'front and rear rise and settle together'
        >>> SCALES["pitch"].words(6)
        'nods once after a hump and is still … a trace of nod over sharp humps only'
        """
        if mark in self.anchors:
            return self.anchors[mark]
        return f"{self.anchors[mark - 1]} … {self.anchors.get(mark + 1, 'nothing left to wish')}"


def _scale(title: str, asks: str, *anchors: str) -> Scale:
    return Scale(title=title, asks=asks, anchors=dict(zip((1, 3, 5, 7, 9), anchors, strict=True)))


SCALES: Mapping[Attribute, Scale] = {
    "overall": _scale(
        "overall",
        "Would you hand the vehicle to a customer like this?",
        "turn round and take it back to the workshop",
        "drivable, but every customer would complain",
        "does the job; a customer who knows the stock vehicle sees no gain",
        "clearly better than stock, one thing left to mend",
        "sign it off",
    ),
    "comfort": _scale(
        "comfort",
        "How does the body of a passenger feel after this road?",
        "hurts; passengers ask to stop",
        "tiring within minutes",
        "one notices the road all the time, without complaint",
        "restful, with a rare jolt",
        "one forgets the road",
    ),
    "control": _scale(
        "control",
        "Does the vehicle do what you ask, and nothing else?",
        "it goes where the road sends it; you slow down for safety",
        "needs correcting at every bump",
        "holds its line with attention",
        "holds its line by itself, late corrections are small",
        "planted; road and load change nothing",
    ),
    "small_bumps": _scale(
        "comfort on small bumps",
        "Patches, gravel, joints: what comes through seat and wheel?",
        "every stone is a blow",
        "a constant hard patter that blurs the mirrors",
        "sharp edges come through, the rest is dulled",
        "felt as a murmur, no edge",
        "heard more than felt",
    ),
    "big_hits": _scale(
        "big-hit control",
        "Potholes, washouts, humps taken too fast: how does it end?",
        "crashes metal to metal, or throws the vehicle off its line",
        "hard onto the stops and a kick back up",
        "touches the stops, with a thud, and stays straight",
        "uses all of the travel and comes back once",
        "swallows the hit and is level again at once",
    ),
    "body_float": _scale(
        "body float",
        "After a long wave at speed, how long does the body go on?",
        "wallows on for three waves and more; passengers feel sick",
        "two clear swings after every dip",
        "one swing after the dip",
        "a soft half swing, then still",
        "follows the road and stops with it",
    ),
    "pitch": _scale(
        "pitch",
        "Do front and rear work together over humps and under the brakes?",
        "rocks like a boat; the headlamps sweep the trees",
        "nods two or three times after each hump",
        "nods once after a hump and is still",
        "a trace of nod over sharp humps only",
        "front and rear rise and settle together",
    ),
    "head_toss": _scale(
        "head toss",
        "One wheel meets a bump: what does your head do?",
        "heads hit the side windows",
        "one braces against the door at every rut",
        "heads sway, the neck has work to do",
        "a short sway, shoulders stay in the seat",
        "the wheel moves, the head does not",
    ),
    "steering_return": _scale(
        "steering return",
        "Let the wheel slip through your hands out of a bend: does it come back?",
        "stays where it is put, or falls further in",
        "comes back half way, you bring the rest",
        "comes back slowly and stops a little short",
        "comes back to straight, a trace late",
        "comes back to straight briskly and rests there",
    ),
    "corrugation_hold": _scale(
        "corrugation hold",
        "On washboard at its worst speed: do the tyres stay on the ground?",
        "the rear walks sideways; steering and brakes are gone",
        "skates in bends and needs half a lane",
        "shuffles sideways, but answers to the wheel",
        "holds the bend with a light shuffle",
        "runs as on tarmac, only louder",
    ),
    "crosswind": _scale(
        "crosswind confidence",
        "Gusts, bridges, lorries coming the other way: how much do you steer?",
        "moved over into the next lane; both hands and half the speed",
        "large corrections at every gust",
        "a steady small correction, one stays alert",
        "one hand, an occasional nudge",
        "one learns of the wind from the trees",
    ),
}
"""Every attribute in the order in which drivers are asked."""
