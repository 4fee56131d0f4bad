"""What a person must have read before a real board is tested."""

from __future__ import annotations

CAUTIONS = (
    "The board lies on the bench, not in the feeder, with lamps or nothing for gas valve, wire drive and contactor: "
    "the test switches all of them.",
    "The feeder plug of the add-on (P1) is pulled; USB alone feeds it (or goes through a USB isolator). COMMON is "
    "not isolated from the feeder's 24 VAC: with P1 in, a grounded computer can short the winding through it.",
    "The bench link is fitted for the test and comes out again before the board goes back.",
    "Opening the port resets many boards: outputs float until the sketch runs, and only their resistors hold them off.",
    "The board is a timer, not a safety function. A passed test says nothing about interlock, emergency stop or "
    "thermal cut-out of the machine.",
)
