"""What the parts of a charging system do, in words for people who do not work on machines.

General knowledge of the trade, no source; it says nothing about the machine at hand.
"""

from __future__ import annotations

from chargewright.report.say import say

# component -> (its name in a sentence, what it does, what a fault there does)
PARTS = {
    "battery": (
        "the battery",
        "The battery stores the current that starts the engine.",
        "Worn or discharged, it cannot give that current, however well the machine charges.",
    ),
    "stator": (
        "the alternator's windings (stator)",
        "The windings of the alternator make the current while the engine turns.",
        "With a fault in them the battery gets too little and runs down while riding.",
    ),
    "rotor": (
        "the alternator's magnets (rotor)",
        "The magnets of the alternator turn with the engine and drive the current in its windings.",
        "With weak or loose magnets the battery gets too little and runs down while riding.",
    ),
    "rectifier": (
        "the rectifier in the rectifier-regulator",
        "The rectifier turns the alternator's current into the direct current a battery can take.",
        "With a fault in it the battery gets too little, or is drained while the machine stands.",
    ),
    "regulator": (
        "the regulator in the rectifier-regulator",
        "The regulator holds the charging voltage where it suits the battery.",
        "With a fault in it the battery gets too little, or so much that it is spoilt.",
    ),
    "connector": (
        "the plug between alternator and regulator",
        "All of the alternator's current passes through the contacts of this plug.",
        "A bad contact turns part of it into heat: the battery gets less, and the plug can melt.",
    ),
    "leads": (
        "the charging leads",
        "The leads carry the current from alternator and regulator to the battery.",
        "A bad joint in them holds part of the charge back.",
    ),
    "grounds": (
        "the ground connections",
        "The ground connections carry the current back to the battery.",
        "A bad joint in them weakens starting or charging.",
    ),
    "fuse": (
        "the main fuse and its holder",
        "The main fuse protects the wiring; the battery's current passes through it.",
        "Blown or with a bad contact, it cuts the machine off or holds the charge back.",
    ),
    "loads": (
        "lamps and accessories",
        "Lamps and accessories use the current that the alternator makes.",
        "Where they use more than it makes, the battery has to give the rest.",
    ),
    "drain": (
        "a current that flows with the key off",
        "With the key off next to no current should flow.",
        "What still flows empties the battery while the machine stands.",
    ),
    "starter": (
        "the starter circuit",
        "The starter turns the engine with the battery's current.",
        "With a fault in it the engine turns slowly or not at all, even on a good battery.",
    ),
}


def part_name(component: str) -> str:
    """Return the name of a part in a sentence; its own word where none is known."""
    return say(PARTS[component][0]) if component in PARTS else component


def part_words(component: str) -> str:
    """Return what a part does and what a fault there does; empty where none is known."""
    if component not in PARTS:
        return ""
    _, does, fails = PARTS[component]
    return say("{does} {fails}", does=say(does), fails=say(fails))
