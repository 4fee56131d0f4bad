/*
 * Pins and times of this design, with units: the one file of the sketch that its owner may change.
 *
 * gasless_four_step, design 05051989b288812e, made by wirecue 0.0.0.
 * Made from the design file: change that and build again, so that board, bench and papers keep agreeing.
 */

/*
 * Gasless four-step field setup
 * Fence posts and farm gates, outdoors. Self-shielded wire needs no gas; the four-step trigger rests the
 * hand on long runs, and the weld limit ends a weld that nobody ends. An interlock contact is wired.
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

/* ---- Pins of the Leonardo-style board, ATmega32U4, 5 V ----
 * PIN_OF is the pin as the chip's data sheet has it; the name printed on the board stands behind it.
 * Each output needs its resistor to the off level, as stated: pins float until the sketch runs.
 * Contacts close to board common; a resistor on each wets it, and the internal pull-ups are on as well.
 */
#define WIRE_DRIVE_PIN PIN_OF(D, 7) /* D6: wire drive, 3.3 kohm to off */
#define CONTACTOR_PIN PIN_OF(E, 6) /* D7: contactor, 3.3 kohm to off */
#define LAMP_PIN PIN_OF(C, 7) /* D13: status lamp */
#define TRIGGER_PIN PIN_OF(D, 1) /* D2: trigger */
#define INCH_PIN PIN_OF(D, 4) /* D4: inch button */
#define INTERLOCK_PIN PIN_OF(B, 4) /* D8: interlock contact, closed when all is well */
#define FOUR_STEP_PIN PIN_OF(B, 6) /* D10: trigger mode switch, closed for four-step */
#define BENCH_LINK_PIN PIN_OF(D, 6) /* D12: bench link, a jumper read at power-up */

/* Level that switches each load on: 1 high, 0 low. */
#define WIRE_DRIVE_ON_HIGH 1
#define CONTACTOR_ON_HIGH 1

/* Analog channels of the converter (its reference is the board's supply, 5.0 V). */
#define BURNBACK_CHANNEL 5
#define SUPPLY_CHANNEL 0

/* ---- Times, in microseconds ---- */
/* preflow time: 0 ms */
#define PREFLOW_US UINT32_C(0)
/* burnback time: dial, 30 ms to 400 ms */
#define BURNBACK_LOW_US UINT32_C(30000)
#define BURNBACK_HIGH_US UINT32_C(400000)
/* postflow time: 0 ms */
#define POSTFLOW_US UINT32_C(0)

/* Limits: the longest that nobody has to end. */
#define WELD_LIMIT_US UINT32_C(240000000) /* 240 s */
#define INCH_LIMIT_US UINT32_C(10000000) /* 10 s */

/* Filters: a contact counts once it held for this time. */
#define TRIGGER_FILTER_US UINT32_C(45000) /* 45 ms */
#define INCH_FILTER_US UINT32_C(20000) /* 20 ms */

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
