"""What the survey asks of one load beside its coil: its power factors, the wires' protection, a contactor between."""

from __future__ import annotations

from collections.abc import Iterator

from timing.survey.question import COLD, YES, Option, Question, When, yes_no


def power_factors(path: str, what: str, when: When) -> Iterator[Question]:
    """Yield the questions on the power factors of a coil, which decide how far it pulls the winding down.

    path: of the load, such as `feeder.gas_valve`.
    """
    stated = f"survey.{path.rpartition('.')[2]}_power_factor"
    yield yes_no(
        stated,
        f"Do plate or data sheet of the {what}'s coil give watts as well as VA, or a power factor (cos phi)?",
        "An ac coil's alone. The current of coils lags: the winding falls less under it than under a lamp's. Without "
        "these figures the whole usual range is counted.",
        when=when,
    )
    told = When(stated, (YES,), "if given")
    for key, while_, usual in (
        ("held_power_factor", "once it is in (holding, sealed)", "20 % to 50 %"),
        ("pull_in_power_factor", "while it pulls in (inrush)", "50 % to 85 %"),
    ):
        yield Question(
            f"{path}.coil.{key}",
            f"Power factor of the {what}'s coil {while_}?",
            f"Watts divided by VA, times 100; cos phi 0.35 is 35 %. Usual: {usual}. No answer: not given.",
            "measure",
            when=told,
            optional=True,
        )


def protections(path: str, what: str, when: When | None) -> Iterator[Question]:
    """Yield the questions on what opens when the wires of a load are shorted."""
    yield Question(
        f"{path}.protection.by",
        f"Is there a fuse or breaker in the circuit of the {what} that the add-on will switch?",
        COLD + "Follow the circuit back to where it leaves its supply. The add-on's own fuse F1 protects the add-on "
        "alone. Wires that nothing protects burn when they chafe through.",
        "choice",
        "own-fuse",
        (
            Option("own-fuse", "none found: the add-on brings one, and its rating is proposed"),
            Option("feeder", "yes, and its rating stands on it or beside it"),
        ),
        when=when,
    )
    yield Question(
        f"{path}.protection.rating",
        f"Rating of that fuse or breaker of the {what}?",
        COLD + "Stamped into the fuse's cap or printed on the breaker. The wires of the add-on are sized for it.",
        "measure",
        when=When(f"{path}.protection.by", ("feeder",), "if there is one"),
    )


def behind_a_contactor(path: str, what: str, when: When, usual_kind: str, usual_voltage: str) -> Iterator[Question]:
    """Yield the questions on an interposing contactor and the load behind it."""
    place = f"survey.{path.rpartition('.')[2]}_interposed"
    yield yes_no(
        place,
        f"Shall an interposing contactor stand between the add-on and the {what}?",
        "The add-on's small relay then works its 24 VAC coil, and the contactor's contact the load: for more than some "
        "amperes, for dc above 30 V, and to keep mains level out of the add-on's box. Choose it with its data sheet at "
        f"hand. What is asked below of the coil of the {what} is then asked of this contactor's coil.",
        when=when,
    )
    there = When(place, (YES,), "with an interposing contactor")
    behind = f"{path}.interposed"
    yield Question(
        f"{behind}.kind",
        f"What does the {what} behind it run on?",
        COLD + "On its plate. Above 50 V: a licensed electrician.",
        "choice",
        usual_kind,
        (
            Option("ac", "alternating voltage"),
            Option(
                "dc",
                "direct voltage",
                to_do=f"Buy an interposing contactor whose data sheet states DC-13 (IEC 60947-5-1) for the {what}'s "
                f"volts and amperes, and write that down as {behind}.contact_dc. An ac rating says nothing of dc.",
            ),
        ),
        when=there,
    )
    yield Question(f"{behind}.voltage", f"Its voltage ({what})?", "On its plate.", "measure", usual_voltage, when=there)
    yield Question(
        f"{behind}.hold",
        f"Its current, once it runs ({what})?",
        "On its plate, or with a clamp meter round one wire, put there while it is off.",
        "measure",
        when=there,
    )
    yield Question(
        f"{behind}.inrush",
        f"Its current as it starts ({what})?",
        "Clamp meter with inrush or max hold. A motor takes some 3 to 6 times its running current.",
        "measure",
        when=there,
        optional=True,
        at_least=f"{behind}.hold",
    )
    for key, sense, usual in (("on_delay", "closes", CLOSING), ("off_delay", "opens", OPENING)):
        yield Question(
            f"{behind}.{key}",
            f"How long until the interposing contactor of the {what} {sense}: shortest, usual, longest?",
            "On its data sheet, with the coil's own suppressor in place. It adds to the delay asked below.",
            "spread",
            usual,
            when=there,
        )


CLOSING, OPENING = "10 ms, 20 ms, 30 ms", "5 ms, 12 ms, 20 ms"
"""Of a small contactor with an ac coil (practice, no source)."""
