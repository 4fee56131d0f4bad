"""All rules, each a row of one table, and the running of them. docs/rules.md is made from it."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from timing.checks import (
    as_found,
    board,
    circuits,
    controls,
    feeder,
    gas,
    isolation,
    load_wires,
    loads,
    modules,
    plates,
    power_source,
    process,
    spots,
    supply,
    times,
    trigger_levels,
)
from timing.checks.finding import Finding, Severity
from timing.project import Project

RuleFunction = Callable[[Project], Iterable[Finding]]
ERROR, WARNING, INFO = Severity.ERROR, Severity.WARNING, Severity.INFO


@dataclass(frozen=True)
class Rule:
    """One rule. Functions that look at several things at once serve several rules."""

    name: str
    """As findings give it."""
    function: RuleFunction
    severities: tuple[Severity, ...]
    """What its findings may be, the gravest first."""
    about: str
    """What it looks at, in a sentence."""
    reason: str
    """Why it matters; a finding says it with the figures of its design."""
    remedy: str
    """What helps, in general; empty where there is nothing to do."""
    source: str
    """What the limit rests on: a mark of timing.marks, with the work where it is published."""


# fmt: off
RULES: tuple[Rule, ...] = (
    Rule(
        "every-role-has-a-pin", board.every_role_has_a_pin, (ERROR,),
        "Every role of the design has a pin, and the board has that pin.",
        "the sketch would not compile, or drive something else",
        "give it one of the free pins that can do the job",
        "derived",
    ),
    Rule(
        "one-role-a-pin", board.one_role_a_pin, (ERROR,),
        "No two roles share a pin.",
        "one pin does one job",
        "another pin for one of them",
        "derived",
    ),
    Rule(
        "pins-can-do-their-job", board.pins_can_do_their_job, (ERROR, WARNING,),
        "Dials are on pins that measure, outputs and contacts on pins that switch and pull up.",
        "a pin without the hardware for its job reads or drives nothing",
        "a free pin that can, or an external resistor",
        "published: data sheet of the board's microcontroller",
    ),
    Rule(
        "pins-are-free-at-boot", board.pins_are_free_at_boot, (ERROR,),
        "No role is on a pin that the board itself needs, no load on one that moves by itself at reset.",
        "the load would twitch before the sketch has started",
        "another pin",
        "published: data sheet of the board's microcontroller",
    ),
    Rule(
        "outputs-are-pulled-off", board.outputs_are_pulled_off, (INFO,),
        "The external resistor that holds each output off while the board boots.",
        "pins float in the bootloader",
        "fit the resistor",
        "published: data sheet of the board's microcontroller",
    ),
    Rule(
        "no-idle-pins", board.no_idle_pins, (INFO,),
        "Pins given for something that the design does not have.",
        "they stay unused",
        "",
        "derived",
    ),
    Rule(
        "board-was-tested", board.board_was_tested, (WARNING,),
        "How far the sketch was tested on this kind of board.",
        "what was not tested may not work",
        "a bench test with lamps for loads first",
        "measured",
    ),
    Rule(
        "gates-open-at-logic-level", board.gates_open_at_logic_level, (INFO,),
        "Whether the gates of the relay drivers open fully at the board's logic voltage.",
        "a MOSFET that opens half-way runs hot",
        "a MOSFET specified at a low gate voltage",
        "practice",
    ),
    Rule(
        "signals-keep-to-logic-level", board.signals_keep_to_logic_level, (INFO,),
        "Whether anything on a pin may stand above the board's logic voltage.",
        "a pin above its supply feeds the board through its protection diode, and dies of it",
        "bare contacts, open collectors, or an optocoupler between",
        "published: data sheet of the board's microcontroller",
    ),
    Rule(
        "filter-bridges-the-gaps", controls.filter_bridges_the_gaps, (ERROR, WARNING, INFO,),
        "With ac sensing, the trigger's filter against the gaps between half-waves.",
        "a held trigger would look like one press after the other",
        "a longer filter",
        "derived",
    ),
    Rule(
        "filter-outlasts-bounce", controls.filter_outlasts_bounce, (WARNING,),
        "With dc sensing, the trigger's filter against the bounce of its contact.",
        "every bounce would count as a press",
        "a filter of 10 ms to 15 ms",
        "practice",
    ),
    Rule(
        "release-delay", controls.release_delay, (WARNING, INFO,),
        "What the trigger's filter costs at the release, in time and in wire.",
        "a long delay is felt at the gun",
        "an ac-input optocoupler allows a shorter filter",
        "practice",
    ),
    Rule(
        "gas-suits-wire", gas.gas_suits_wire, (WARNING,),
        "The shielding gas against the wire.",
        "an unsuited gas spoils every weld, whatever its times",
        "a gas that suits the wire",
        "practice",
    ),
    Rule(
        "gas-flow-shields", gas.gas_flow_shields, (WARNING,),
        "The gas flow against what shields: 8 L/min to 25 L/min.",
        "too little lets the air in, too much draws it in, and no preflow makes up for either",
        "a usual flow, measured at the nozzle",
        "practice",
    ),
    Rule(
        "gas-times-without-gas", gas.gas_times_without_gas, (WARNING,),
        "Preflow and postflow of a design without gas.",
        "the sequence waits for them, valve or no valve",
        "no such times",
        "derived",
    ),
    Rule(
        "source-readings-agree", power_source.source_readings_agree, (WARNING,),
        "What was read of the power source: volts at the terminals near the usual ones for the current, amperes that "
        "the wire can draw, a slope that goes with the volts.",
        "burnback, ball and spot follow from the weld that these figures make",
        "read volts and amperes at the terminals while welding; leave a slope out that was not measured",
        "published: IEC 60974-1, conventional load voltage, seen quoted; choice: how far is far",
    ),
    Rule(
        "arc-can-burn", process.arc_can_burn, (WARNING,),
        "Whether wire, gas and machine settings leave a steady arc to calculate with.",
        "without one, burnback, postflow and spot cannot be checked",
        "wire, gas or machine settings as the finding says",
        "derived",
    ),
    Rule(
        "preflow-clears-the-air", gas.preflow_clears_the_air, (WARNING, INFO,),
        "Preflow against the time that valve, nozzle and gun need to clear of air.",
        "an arc that starts in air leaves porosity at the head of the weld",
        "a longer preflow, or a purge button",
        "derived",
    ),
    Rule(
        "spot-dial-range", times.spot_dial_range, (INFO,),
        "The range of the spot time against the usual one.",
        "thick plugs need longer, thin sheet shorter",
        "",
        "practice",
    ),
    Rule(
        "spot-outlasts-the-start", process.spot_outlasts_the_start, (ERROR, WARNING, INFO,),
        "The shortest spot against the time that wire, contactor and arc take to start.",
        "a spot near that scatters, or is over before it has begun",
        "a longer shortest spot",
        "derived",
    ),
    Rule(
        "spot-fuses-the-back-sheet", spots.fuses_the_back_sheet, (ERROR, WARNING,),
        "The spot time, and the end of its dial, against what fuses the back sheet of a spot without a hole.",
        "a spot that only lies on the back sheet holds nothing",
        "the spot time that the finding names, more heat, or plugs",
        "derived",
    ),
    Rule(
        "spot-burns-through", spots.does_not_burn_through, (ERROR, WARNING, INFO,),
        "The spot time and its dial against the time from which a spot without a hole may drop out.",
        "a puddle too wide on the far side drops out and leaves a hole",
        "the spot time that the finding names",
        "derived",
    ),
    Rule(
        "burnback-is-short", times.burnback_is_short, (WARNING,),
        "The longest burnback against what any wire needs.",
        "the contactor stays on meanwhile, come what may",
        "a shorter dial; brake the motor of a wire that needs more",
        "practice",
    ),
    Rule(
        "wire-stops-soon", process.wire_stops_soon, (ERROR, WARNING,),
        "The wire's coast, where no burnback makes up for it.",
        "a long burnback melts the wire as it runs out: every doubt about the coast is then wire in the puddle, or an "
        "arc at the contact tip",
        "a brake on the drive, and the coast measured again",
        "derived",
    ),
    Rule(
        "burnback-leaves-a-good-end", process.burnback_leaves_a_good_end, (ERROR, WARNING, INFO,),
        "The wire end that the burnback setting leaves, over machines as unsure as they are.",
        "the wire should end free of the puddle and clear of the contact tip",
        "the burnback that the finding names",
        "derived",
    ),
    Rule(
        "extension-left-holds", process.extension_left_holds, (WARNING, INFO,),
        "What test welds found of the extension left, against the process and the dial as they are now.",
        "another process leaves another wire end",
        "test welds, then `wirecue fit --write`",
        "choice",
    ),
    Rule(
        "ball-is-clipped", process.ball_is_clipped, (WARNING, INFO,),
        "The ball that the burnback setting leaves on the wire's end, against what the next start bears.",
        "the next arc would have to melt a large ball before it melts wire",
        "less burnback where that leaves the wire free as well; else clip the wire's end before each start",
        "practice",
    ),
    Rule(
        "burnback-serves-all-speeds", process.burnback_serves_all_speeds, (WARNING,),
        "The burnback dial at the slowest and the fastest wire.",
        "another wire feed speed needs a different burnback",
        "a wider dial, or fewer wire feed speeds",
        "derived",
    ),
    Rule(
        "postflow-outlasts-the-crater", gas.postflow_outlasts_the_crater, (WARNING,),
        "Postflow against the time that the crater takes to freeze.",
        "a crater that freezes in air is porous and may crack",
        "a longer postflow",
        "derived",
    ),
    Rule(
        "pause-parts-the-stitches", times.pause_parts_the_stitches, (ERROR, WARNING,),
        "The shortest stitch pause against the contactor's drop-out and the arc sensor.",
        "the arc may not go out between stitches",
        "a longer shortest pause",
        "derived",
    ),
    Rule(
        "dial-step", controls.dial_step, (WARNING, INFO,),
        "The step of each dial at both ends, by converter and by hand.",
        "a coarse dial cannot be set",
        "a narrower range, an audio taper, or a ten-turn dial",
        "choice",
    ),
    Rule(
        "plate-has-room", plates.plate_has_room, (WARNING,),
        "With made plates, whether a setting sits at the end of its dial.",
        "there is no room to turn further",
        "a dial that goes further, with a new plate",
        "choice",
    ),
    Rule(
        "plate-covers-the-advice", plates.plate_covers_the_advice, (WARNING,),
        "With made plates, whether each dial but burnback's reaches what is advised; burnback has rules of its own.",
        "what is advised cannot be set",
        "a dial that reaches it, with a new plate",
        "derived",
    ),
    Rule(
        "supply.readings", supply.readings, (ERROR,),
        "The loaded reading of the winding against the open one.",
        "no winding rises under load; fuse and regulator are calculated from the readings",
        "measure both again, one right after the other",
        "derived",
    ),
    Rule(
        "supply.collapse", supply.periodic, (ERROR,),
        "Whether the reservoir settles at every corner of line and load.",
        "the load takes more than winding and rectifier can put back in each half-wave",
        "a larger reservoir, or a bridge",
        "derived",
    ),
    Rule(
        "supply.input-voltage", feeder.input_voltage, (ERROR, WARNING,),
        "The highest reservoir voltage against the regulator's rating.",
        "a lightly loaded winding at high line rectifies far above its name",
        "a regulator rated for more",
        "derived",
    ),
    Rule(
        "supply.board-voltage", supply.board_voltage, (ERROR,),
        "The regulator's output against what the board takes.",
        "below, the logic browns out; above, the board's own regulator dies",
        "set the regulator to what the board takes",
        "published: data sheet of the board",
    ),
    Rule(
        "supply.dropout", supply.dropout, (ERROR, WARNING,),
        "The lowest reservoir voltage against the regulator's dropout.",
        "the board's supply would fall with the reservoir",
        "a larger reservoir, a bridge, or a lower output",
        "derived",
    ),
    Rule(
        "supply.capacitor-voltage", supply.capacitor, (ERROR, WARNING,),
        "The reservoir's voltage rating.",
        "an electrolytic capacitor above its rating heats, vents and fails",
        "one rated for more",
        "practice",
    ),
    Rule(
        "supply.capacitor-ripple", supply.capacitor, (ERROR,),
        "The reservoir's ripple current rating.",
        "ripple current heats the capacitor from inside",
        "one rated for more",
        "practice",
    ),
    Rule(
        "supply.volt-amperes", feeder.volt_amperes, (ERROR, WARNING,),
        "The winding's current, feeder and add-on together, against its rating.",
        "a rectifier draws its current in short pulses: more VA than the watts say",
        "a switching regulator, or a transformer of its own",
        "derived",
    ),
    Rule(
        "supply.pull-in", feeder.pull_in, (WARNING,),
        "The winding's voltage at low line while the coils pull in.",
        "coils are made to pull in from 85 % of their voltage on",
        "try the contactor at low line; else a transformer of its own",
        "practice",
    ),
    Rule(
        "supply.fuse-current", feeder.fuse, (ERROR,),
        "The fuse against the continuous current.",
        "in a warm box a fuse carries a share of its rating only",
        "a larger fuse",
        "practice",
    ),
    Rule(
        "supply.fuse-inrush", feeder.fuse, (ERROR,),
        "The fuse against the surge at switching on.",
        "the wire ages with each switching-on and opens one day for nothing",
        "a larger fuse, or a smaller reservoir with its fuse",
        "practice",
    ),
    Rule(
        "supply.fuse-short", feeder.fuse, (ERROR,),
        "Whether a dead short opens the fuse.",
        "the wires would overheat before the fuse opens",
        "a smaller fuse, or a smaller reservoir with its fuse",
        "derived",
    ),
    Rule(
        "supply.fuse", feeder.fuse, (INFO,),
        "The fuse that is proposed where the design names none.",
        "every wire behind it is sized to carry its rating",
        "write it down",
        "published: IEC 60127-2",
    ),
    Rule(
        "supply.fuse-set-by-surge", feeder.fuse_fits_load, (WARNING,),
        "Whether the surge of switching on, and not the load, sets the fuse.",
        "a fault that the load's own fuse would end stands for minutes",
        "a resistor in the rectifier's feed, with the fuse that it allows",
        "choice",
    ),
    Rule(
        "supply.heat", supply.heat, (ERROR, WARNING,),
        "The regulator's junction in a warm box.",
        "a junction over its limit fails",
        "a switching regulator, or a heat sink",
        "derived",
    ),
    Rule(
        "supply.regulator-current", supply.regulator_current, (ERROR, WARNING,),
        "The rail's current against the regulator's rating.",
        "in a warm box a regulator gives a share of its rating only",
        "one rated for more",
        "practice",
    ),
    Rule(
        "supply.crowbar", supply.rail_guarded, (ERROR, INFO,),
        "What happens when the regulator fails shorted.",
        "the reservoir's voltage would stand on the board and the relays",
        "a fuse that opens on the current of crowbar or clamp",
        "derived",
    ),
    Rule(
        "supply.no-sense", supply.thresholds, (WARNING,),
        "Whether the board measures its supply.",
        "it cannot switch off in good order before its own supply gives way",
        "fit a divider to an analog pin",
        "choice",
    ),
    Rule(
        "supply.threshold-low", supply.thresholds, (ERROR,),
        "The low-supply threshold against the regulator's dropout.",
        "the board would brown out before it has switched the outputs off",
        "thresholds between dropout and low line",
        "derived",
    ),
    Rule(
        "supply.threshold-high", supply.thresholds, (ERROR,),
        "The thresholds against what low line and pull-in leave.",
        "on a bad day the sequence would stop with nothing wrong",
        "thresholds between dropout and low line",
        "derived",
    ),
    Rule(
        "supply.hold-up", supply.hold_up, (WARNING,),
        "The time from the low threshold to the dropout against the filter.",
        "the board may lose its supply before it has decided that it is low",
        "a larger reservoir, a higher threshold, or a shorter filter",
        "derived",
    ),
    Rule(
        "supply.half-wave", feeder.half_wave, (WARNING, INFO,),
        "The direct current that a half-wave rectifier draws through the winding.",
        "it magnetises the core one way: more heat and hum",
        "a bridge",
        "practice",
    ),
    Rule(
        "supply.common-to-chassis", isolation.common_to_chassis, (WARNING, INFO,),
        "How COMMON stands against chassis.",
        "the rectifier does not isolate: a tie to chassis shorts the winding",
        "measure it; keep USB, instruments and chassis off, or isolate",
        "derived",
    ),
    Rule(
        "supply.isolation-joined", isolation.keeps_apart, (ERROR,),
        "Whether something joins the two sides of an isolating module again.",
        "COMMON would be on the winding through it",
        "a second transformer in its place, or no measuring of the reservoir",
        "derived",
    ),
    Rule(
        "supply.isolation-rating", isolation.keeps_apart, (ERROR,),
        "The second transformer's rating.",
        "a rectifier's pulses heat a small transformer more than the watts say",
        "one of more VA",
        "derived",
    ),
    Rule(
        "supply.not-measured", feeder.notes, (WARNING,),
        "Whether the transformer was measured.",
        "the open voltage decides what the regulator must be rated for",
        "measure the winding open and loaded",
        "choice",
    ),
    Rule(
        "supply.measured-with-coils", feeder.notes, (INFO,),
        "Whether the winding was loaded with coils.",
        "their current lags and hides most of the winding's resistance",
        "measure with a lamp or a power resistor",
        "derived",
    ),
    Rule(
        "supply.limited-power", feeder.notes, (INFO,),
        "Whether the winding keeps to the usual bounds of a class 2 circuit.",
        "local codes have a say in such circuits",
        "ask where you work; fuse the tap in either case",
        "published: NFPA 70, chapter 9, table 11(A), seen quoted",
    ),
    Rule(
        "circuits.trigger-current", trigger_levels.trigger_levels, (ERROR, WARNING,),
        "From which voltage on the trigger is sure to read closed, with an aged optocoupler.",
        "couplers lose half their current transfer ratio over the years",
        "the pair of resistors that the finding names",
        "published: IEC 61131-2, type 1, seen quoted",
    ),
    Rule(
        "circuits.trigger-leak", trigger_levels.trigger_levels, (ERROR,),
        "Up to which leak through its open contact the trigger is sure to read open, with a new optocoupler.",
        "a damp gun cable, or an RC left across the contact, would start the machine or keep it going",
        "the pair of resistors that the finding names; the RC off the contact; a dry cable",
        "published: IEC 61131-2, type 1, seen quoted",
    ),
    Rule(
        "circuits.trigger-off", trigger_levels.trigger_levels, (WARNING,),
        "Up to which voltage the trigger is sure to read open, with a new optocoupler.",
        "what a cable beside others picks up must not count",
        "the pair of resistors that the finding names",
        "published: IEC 61131-2, type 1, seen quoted",
    ),
    Rule(
        "circuits.trigger-sag", trigger_levels.trigger_sag, (WARNING,),
        "A trigger fed from the winding, while the coils that it starts pull that winding down.",
        "the release would be read in the middle of the start, and the coils chatter",
        "a filter that outlasts the pull-in; a larger transformer",
        "derived",
    ),
    Rule(
        "circuits.trigger-led", trigger_levels.trigger_levels, (ERROR,),
        "The current of the trigger's optocoupler at high line.",
        "an LED driven hard ages fast",
        "the pair of resistors that the finding names",
        "practice",
    ),
    Rule(
        "circuits.trigger", trigger_levels.trigger_levels, (INFO,),
        "The resistors that are proposed for the trigger's input.",
        "they leave an aged coupler enough, and a new one dark with what leaks",
        "write them down",
        "derived",
    ),
    Rule(
        "circuits.contacts", circuits.contacts, (INFO,),
        "The resistor that wets each contact.",
        "a contact that carries next to nothing goes bad by the film on it",
        "fit the resistors",
        "published: IEC 61131-2",
    ),
    Rule(
        "circuits.triac-on-dc", circuits.drive_suits_load, (ERROR,),
        "An opto-triac on a dc load.",
        "a triac switches off only when its current passes through zero",
        "a relay",
        "exact",
    ),
    Rule(
        "circuits.mosfet-on-ac", circuits.drive_suits_load, (ERROR,),
        "A MOSFET on an ac load.",
        "its own diode conducts every other half-wave, switched on or not",
        "a relay",
        "exact",
    ),
    Rule(
        "circuits.triac-small-coil", circuits.drive_suits_load, (WARNING,),
        "A coil's current against the holding current of a triac.",
        "under it a triac drops out in each half-wave",
        "a relay",
        "practice",
    ),
    Rule(
        "circuits.pin-current", circuits.pin_current, (ERROR,),
        "The current of each output pin against what the board allows.",
        "an overloaded pin sags, then fails",
        "a relay",
        "published: data sheet of the board's microcontroller",
    ),
    Rule(
        "circuits.leak-holds", circuits.leaks, (ERROR,),
        "What a triac or MOSFET leaks while it is off against the current that lets a coil go.",
        "the coil may stay in, or hum and drop out late",
        "a relay",
        "practice",
    ),
    Rule(
        "circuits.snubber-closing", circuits.snubbers, (WARNING,),
        "What a contact carries when it closes on the RC element across the load.",
        "small contacts weld in time",
        "the resistor that the finding names",
        "practice",
    ),
    Rule(
        "circuits.release", circuits.release, (WARNING, INFO,),
        "How much later a coil lets go with its suppression.",
        "the wire coasts, or the arc burns, that much longer",
        "a zener in series with the diode",
        "derived",
    ),
    Rule(
        "circuits.module-level", modules.active_level, (ERROR,),
        "The level with which the relay module in hand pulls in against the level that means on.",
        "every output would be turned round: loads run from power-up on",
        "let the module's level mean on, or get the other kind",
        "derived",
    ),
    Rule(
        "circuits.module-inputs", modules.low_voltage_inputs, (ERROR,),
        "Active-low inputs lit from 5 V on a board of less.",
        "such a relay may never switch off, and the pin is pulled above its supply",
        "inputs with a supply of their own, or an active-high module",
        "practice",
    ),
    Rule(
        "circuits.module-coils", modules.coil_voltage, (ERROR,),
        "The regulator's output against what the coils of relay modules take.",
        "coils overheat, or relays do not pull in",
        "set the regulator to the coils' voltage",
        "practice",
    ),
    Rule(
        "circuits.module-spacing", modules.module_spacing, (ERROR,),
        "That nothing above extra-low voltage is on a ready-made module.",
        "its creepage and insulation are not stated",
        "a circuit built from its parts, or a relay in the machine",
        "practice",
    ),
    Rule(
        "circuits.module-load", modules.what_modules_bring, (INFO,),
        "What the coils of relay modules draw, and what is across them.",
        "the budget and the times count it",
        "",
        "practice",
    ),
    Rule(
        "circuits.module-input-trap", modules.what_modules_bring, (INFO,),
        "The reservoir's highest voltage against the usual regulator module.",
        "above its rating it may pass that voltage on to the board",
        "",
        "practice",
    ),
    Rule(
        "circuits.sense-voltage", circuits.supply_divider, (ERROR,),
        "The supply-sense pin at the highest reservoir voltage.",
        "a pin above its supply feeds the board through its protection diode",
        "the divider that the finding names",
        "published: data sheet of the board's microcontroller",
    ),
    Rule(
        "circuits.sense-source", circuits.supply_divider, (WARNING,),
        "The source resistance of the supply-sense divider.",
        "the converter's sampling capacitor does not fill through more",
        "the divider that the finding names",
        "published: data sheet of the board's microcontroller",
    ),
    Rule(
        "circuits.sense-resolution", circuits.supply_divider, (WARNING,),
        "How many counts of the converter lie between low and good.",
        "noise would make the supply seem to come and go",
        "thresholds further apart, or the divider that the finding names",
        "choice",
    ),
    Rule(
        "circuits.dial-bends", circuits.dials, (WARNING,),
        "How far the wiper's pull bends a dial's scale.",
        "the dial would read low in its middle",
        "a potentiometer of 10 kohm",
        "choice",
    ),
    Rule(
        "circuits.dial-pick-up", circuits.dial_pick_up, (WARNING, INFO,),
        "What a dial among modules, without a capacitor at its wiper, picks up from the mains.",
        "its time would waver by more than a hand sets it to",
        "a potentiometer of 10 kohm",
        "practice",
    ),
    Rule(
        "circuits.dry-contact", circuits.dry_contacts, (INFO,),
        "That interlock and arc sensor close a bare contact of their own.",
        "a contact that carries another circuit brings that circuit's voltage to the pin",
        "a contact of its own for each",
        "practice",
    ),
    Rule(
        "circuits.dc-contact", loads.dc_contact, (ERROR,),
        "The stated dc rating of a contact that breaks a dc load.",
        "an ac rating says nothing of dc: the arc between the contacts stands",
        "a relay stated for it, an interposing contactor, or a MOSFET",
        "published: IEC 60947-5-1",
    ),
    Rule(
        "circuits.dc-contact-stated", loads.dc_contact, (INFO,),
        "The dc rating that the parts list asks for.",
        "a relay of the same ac rating may not break this load at all",
        "buy by that line of the data sheet",
        "published: IEC 60947-5-1",
    ),
    Rule(
        "circuits.dc-clamp", loads.dc_clamp, (ERROR,),
        "A dc load that a MOSFET breaks against its clamp.",
        "a broken clamp breaks the MOSFET, which fails closed",
        "an interposing contactor",
        "choice",
    ),
    Rule(
        "circuits.fed-from", loads.fed_by_the_winding, (ERROR,),
        "Which winding feeds a load above extra-low voltage.",
        "the budget would count its current on the wrong winding",
        "state the circuit that feeds it",
        "derived",
    ),
    Rule(
        "circuits.above-extra-low", loads.above_extra_low, (WARNING,),
        "Loads above extra-low voltage.",
        "touching such a circuit can kill",
        "leave it to a licensed electrician",
        "published: IEC 61558-1, 3.7.16, and IEC 62282-5-1, 3.23, as the IEC's own glossary quotes them",
    ),
    Rule(
        "circuits.ac-contact", loads.ac_contact, (ERROR,),
        "What an ac coil asks of the contact that makes and breaks it.",
        "beyond its category a contact burns or welds",
        "an interposing contactor",
        "published: IEC 60947-5-1, with NEMA's control circuit ratings, seen quoted",
    ),
    Rule(
        "circuits.interposed-contact", loads.interposed, (ERROR,),
        "The stated dc rating of an interposing contactor's contact.",
        "an ac rating says nothing of dc: the arc between the contacts stands",
        "a contactor stated for the load",
        "published: IEC 60947-5-1",
    ),
    Rule(
        "circuits.interposed", loads.interposed, (INFO,),
        "The interposing contactor in front of a load.",
        "its lag counts in every time",
        "",
        "published: IEC 60947-5-1",
    ),
    Rule(
        "circuits.mosfet-on-winding", loads.mosfet_on_winding, (ERROR,),
        "A MOSFET in front of a dc coil that is fed by the ac winding.",
        "its own diode conducts every other half-wave, switched on or not",
        "a relay, or dc of its own for the load",
        "exact",
    ),
    Rule(
        "circuits.rectifier-surge", supply.rectifier_surge, (ERROR,),
        "The surge of the rectifier against switching on.",
        "a rectifier beyond it fails shorted",
        "a resistor in series",
        "practice",
    ),
    Rule(
        "circuits.load-unprotected", load_wires.load_wires, (ERROR,),
        "Whether anything opens when a load's wires are shorted.",
        "a chafed wire burns",
        "a fuse of the add-on, or the machine's own, stated",
        "published: IEC 60204-1",
    ),
    Rule(
        "circuits.load-fuse", load_wires.load_wires, (INFO,),
        "What protects the wires of each load.",
        "they are sized for it",
        "write it down",
        "published: IEC 60204-1",
    ),
    Rule(
        "circuits.protective-conductor", load_wires.protective_conductor, (INFO,),
        "The protective conductor of a box with mains-level circuits.",
        "a loose wire would make the box live",
        "",
        "published: IEC 60204-1",
    ),
    Rule(
        "feeder.brake-contact", as_found.brake_contact, (ERROR,),
        "What the add-on switches where a brake contact stops the motor.",
        "the relay at rest would short the motor that the add-on feeds",
        "switch the coil of the motor's relay",
        "derived",
    ),
    Rule(
        "feeder.trigger-supply", as_found.trigger_supply, (ERROR,),
        "What feeds a trigger that worked a control circuit board.",
        "cut off from the board, it carries no voltage to sense",
        "sense the tapped 24 VAC",
        "derived",
    ),
    Rule(
        "feeder.trigger-works", as_found.trigger_works, (WARNING,),
        "The trigger's voltage against the coils that it is said to work.",
        "a wrong answer puts a wire into the drawing that is not there",
        "trace the wires again",
        "derived",
    ),
    Rule(
        "feeder.grounded-trigger", as_found.grounded_trigger, (WARNING,),
        "Which side of a grounded 24 VAC the trigger switches.",
        "a chafed gun cable would start the machine",
        "have the tie to chassis moved to the common side",
        "remembered: IEC 60204-1, 9.4.3.1, connection of control circuits",
    ),
    Rule(
        "feeder.as-found", as_found.wiring_as_found, (INFO,),
        "Whether the design says how the machine was wired.",
        "the drawings of the cuts are made from it",
        "",
        "derived",
    ),
    Rule(
        "weld-limit", times.weld_limit, (ERROR, WARNING,),
        "The limit that ends a weld that nobody ends.",
        "with a stuck trigger or a shorted cable it keeps welding",
        "a limit well over the longest weld or spot",
        "choice",
    ),
    Rule(
        "stitch-without-spot", controls.stitch_without_spot, (INFO,),
        "Switches for spot and stitch that can stand at a stitch without a spot.",
        "nothing ends a stitch but the spot time: the board welds until the trigger ends it",
        "one three-position switch for both",
        "derived",
    ),
    Rule(
        "four-step-rests", times.four_step_rests, (WARNING, INFO,),
        "A four-step trigger with spot welding on.",
        "spot and stitch are two-step work",
        "an off switch on the spot time",
        "choice",
    ),
    Rule(
        "arc-start-limit", times.arc_start_limit, (WARNING,),
        "The arc-start limit against the time that contactor, drive and sensor take.",
        "an ordinary start would be cut off",
        "a longer limit",
        "derived",
    ),
    Rule(
        "relay-operations", times.relay_operations, (WARNING, INFO,),
        "How often a stitch switches the contactor in an hour.",
        "small contactors are made for so many operations an hour",
        "a longer pause, or a contactor for frequent switching",
        "practice",
    ),
    Rule(
        "duty-cycle", times.duty_cycle, (WARNING, INFO,),
        "Arc-on time over ten minutes against the power source's duty cycle.",
        "more overheats the power source",
        "rests, a longer pause, a lower limit or a lower current",
        "published: IEC 60974-1",
    ),
    Rule(
        "memory-fit", board.memory_fit, (ERROR, INFO,),
        "The sketch's flash and RAM against the board's, with room for the stack.",
        "a stack that meets the variables corrupts them",
        "a board with more memory",
        "measured",
    ),
)
# fmt: on
"""Every rule, once, in the order in which a person would fix things."""

SUPPLY_RULES = tuple(rule for rule in RULES if rule.name.startswith(("supply.", "circuits.")))
"""Those for the 24 VAC supply and the circuits of the add-on."""


def told_by(rules: Iterable[Rule], project: Project) -> tuple[Finding, ...]:
    """Return what `rules` find, in their order; a function runs once for a project."""
    findings: list[Finding] = []
    for function in dict.fromkeys(rule.function for rule in rules):
        if function not in project.told:
            project.told[function] = plates.with_new_plates(project, function(project))
        findings += project.told[function]
    return tuple(findings)


def check(project: Project) -> list[Finding]:
    """Run every rule; return the findings, the gravest first, otherwise in the order of the rules."""
    return sorted(told_by(RULES, project), key=lambda finding: -finding.severity)
