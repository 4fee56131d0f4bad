/*
 * Pins and times of this design, with units: the one file of the sketch that its owner may change.
 *
 * spot_stitch, design 87d79af519c50507, made by wirecue 0.0.0.
 * Made from the design file: change that and build again, so that board, bench and papers keep agreeing.
 */

/*
 * Spot and stitch on sheet metal
 * Body panels and cabinet work in 0.8 to 1.5 mm sheet. The spot dial and the stitch dial each have an
 * off switch, so the same panel also does ordinary welds. An arc sensor starts the spot clock.
 *
 * This add-on is a timer and not a safety function: it must not replace or bypass interlock, emergency stop or
 * thermal cut-out.
 */
#ifndef SETTINGS_H
#define SETTINGS_H

#include <stdint.h>

/*
 * Better change the design file and build again: then papers, checks and bench keep agreeing with the board. A board
 * with a number changed here says "edited" behind its digest, and the bench will not take it for the design.
 * Whole numbers only; one that is not allowed stops the compiler with a line that says what is.
 */

/* ---- Pins of the Nano-style board, ATmega328P, 5 V ----
 * PIN_OF is the pin as the chip's data sheet has it; the name printed on the board stands behind it.
 * Each output needs its resistor to the off level, as stated: pins float until the sketch runs.
 * Contacts close to board common; a resistor on each wets it, and the internal pull-ups are on as well.
 */
#define GAS_VALVE_PIN PIN_OF(D, 5) /* D5: gas valve, 3.3 kohm to off */
#define WIRE_DRIVE_PIN PIN_OF(D, 6) /* D6: wire drive, 3.3 kohm to off */
#define CONTACTOR_PIN PIN_OF(D, 7) /* D7: contactor, 3.3 kohm to off */
#define LAMP_PIN PIN_OF(B, 5) /* D13: status lamp */
#define TRIGGER_PIN PIN_OF(D, 2) /* D2: trigger */
#define PURGE_PIN PIN_OF(D, 3) /* D3: purge button */
#define ARC_PIN PIN_OF(B, 1) /* D9: arc sensor, closed when the arc is established */
#define BENCH_LINK_PIN PIN_OF(B, 4) /* D12: bench link, a jumper read at power-up */
#define SPOT_SWITCH_PIN PIN_OF(B, 3) /* D11: spot switch, closed when the function is on */
#define PAUSE_SWITCH_PIN PIN_OF(C, 4) /* A4: pause switch, closed when the function is on */

/* Level that switches each load on: 1 high, 0 low. */
#define GAS_VALVE_ON_HIGH 1
#define WIRE_DRIVE_ON_HIGH 1
#define CONTACTOR_ON_HIGH 1

/* Analog channels of the converter (its reference is the board's supply, 5.0 V). */
#define SPOT_CHANNEL 1
#define BURNBACK_CHANNEL 2
#define PAUSE_CHANNEL 6
#define SUPPLY_CHANNEL 7

/* ---- Times, in microseconds ---- */
/* preflow time: 250 ms */
#define PREFLOW_US UINT32_C(250000)
/* spot time: dial, 200 ms to 2 s, with an off switch */
#define SPOT_LOW_US UINT32_C(200000)
#define SPOT_HIGH_US UINT32_C(2000000)
/* burnback time: dial, 10 ms to 200 ms */
#define BURNBACK_LOW_US UINT32_C(10000)
#define BURNBACK_HIGH_US UINT32_C(200000)
/* postflow time: 1.1 s */
#define POSTFLOW_US UINT32_C(1100000)
/* pause time: dial, 200 ms to 1.5 s, with an off switch */
#define PAUSE_LOW_US UINT32_C(200000)
#define PAUSE_HIGH_US UINT32_C(1500000)

/* Limits: the longest that nobody has to end. */
#define WELD_LIMIT_US UINT32_C(90000000) /* 90 s */
#define ARC_START_LIMIT_US UINT32_C(2000000) /* 2 s */
/* The contactor's longest off-delay: an arc sensed for longer than this and the sensor's filter is a fault. */
#define CONTACTOR_OFF_DELAY_US UINT32_C(25000) /* 25 ms */
#define PURGE_LIMIT_US UINT32_C(30000000) /* 30 s */

/* Filters: a contact counts once it held for this time. */
#define TRIGGER_FILTER_US UINT32_C(12000) /* 12 ms */
#define PURGE_FILTER_US UINT32_C(20000) /* 20 ms */
#define ARC_FILTER_US UINT32_C(4000) /* 4 ms */

/* ---- Dials, in counts of the converter ----
 * A reading below the first is a broken or shorted wire; up to the second the time is that of the dial's low end. The
 * other end is the mirror image of this one.
 */
#define DIAL_FAULT_BELOW 19u
#define DIAL_LOW_COUNTS 55u

/* ---- Supply sense, in counts of the converter ---- */
#define SUPPLY_LOW_COUNTS 285u /* 18 V at the reservoir */
#define SUPPLY_GOOD_COUNTS 349u /* 22 V */
#define SUPPLY_FILTER_US UINT32_C(20000) /* 20 ms */

#endif
