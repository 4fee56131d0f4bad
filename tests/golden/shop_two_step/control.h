/*
 * From contacts and readings to outputs: filters, dials, supply and sequence together. Portable C99.
 *
 * shop_two_step, design c9a9dd55f7f73f17, made by wirecue 0.0.0.
 * Made from the design file: change that and build again, so that board, bench and papers keep agreeing.
 */

#ifndef CONTROL_H
#define CONTROL_H

#include <stdbool.h>
#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

/* Bits of the contacts word: 1 closed. The interlock is closed when all is well. */
#define CONTACT_TRIGGER 1u
#define CONTACT_PURGE 2u
#define CONTACT_INCH 4u

/* Analog channels, in the order in which they are read. */
enum {
    READING_PREFLOW = 0,
    READING_BURNBACK = 1,
    READING_POSTFLOW = 2,
    READING_SUPPLY = 3,
    READING_COUNT = 4
};

/* Starts as at power-up. */
void control_start(uint32_t now_us);

/* Starts the sequence anew, in hold-off; filters, dials and supply go on. */
void control_restart(uint32_t now_us);

/* Takes a finished reading of one channel; the middle one of the last three counts, so that one alone, which may be a
 * disturbance, does nothing. A forced one stays in its place. */
void control_reading(uint8_t reading, uint16_t counts, uint32_t now_us);

/* Puts counts in the place of a channel's readings. */
void control_force_reading(uint8_t reading, uint16_t counts, uint32_t now_us);

/* The latest reading of one channel. */
uint16_t control_counts(uint8_t reading);

/* Runs one pass on the contacts as the pins show them; returns the outputs byte that then stands. */
uint8_t control_step(uint16_t pins, uint32_t now_us);

/* Adds to the edge trace what this pass changed, with the outputs as read back from the pins; tells whether it did. */
bool control_note(uint8_t outputs, uint32_t now_us);

/* Tells whether the lamp is lit. */
bool control_lamp(uint32_t now_us);

/* The present phase, the fault shown, and the fault that stands at this moment. */
uint8_t control_phase(void);
uint8_t control_fault(void);
uint8_t control_standing_fault(void);

/* The conditions that stand at this moment, in the bits of link_status.h. */
uint8_t control_conditions(void);

#ifdef __cplusplus
}
#endif

#endif
