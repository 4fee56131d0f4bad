/*
 * The sequence of this design: phases, what they see, what they keep. Portable C99.
 *
 * spot_stitch, design 87d79af519c50507, made by wirecue 0.0.0.
 * Made from the design file: change that and build again, so that board, bench and papers keep agreeing.
 */

#ifndef SEQUENCE_H
#define SEQUENCE_H

#include <stdbool.h>
#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

/* Phases that this design has. The numbers travel over the serial link. */
enum {
    PHASE_HOLD_OFF = 0,
    PHASE_IDLE = 1,
    PHASE_PREFLOW = 2,
    PHASE_WELD = 3,
    PHASE_BURNBACK = 4,
    PHASE_POSTFLOW = 5,
    PHASE_PAUSE = 6,
    PHASE_AWAIT_RELEASE = 7,
    PHASE_PURGE = 8
};

/* What stopped the sequence, or keeps it from starting. The lamp blinks the number. */
enum {
    FAULT_NONE = 0,
    FAULT_INTERLOCK = 1,
    FAULT_SUPPLY = 2,
    FAULT_STATE = 3,
    FAULT_DIAL = 4,
    FAULT_WELD_LIMIT = 5,
    FAULT_ARC_START = 6,
    FAULT_PURGE_LIMIT = 7,
    FAULT_INCH_LIMIT = 8,
    FAULT_ARC_STAYS = 9
};

/* Bits of the outputs byte. */
#define OUTPUT_GAS 1u
#define OUTPUT_WIRE 2u
#define OUTPUT_CONTACTOR 4u

/* What one pass sees: contacts after their filters, switches, and the times as the dials stand now. */
typedef struct {
    bool supply_low;
    bool supply_poor;
    bool dial_fault;
    bool trigger;
    bool purge;
    bool arc;
    bool spot;
    bool stitch;
    uint32_t spot_us;
    uint32_t burnback_us;
    uint32_t pause_us;
} sequence_inputs;

/* What the sequence keeps from pass to pass. */
typedef struct {
    uint8_t phase;
    uint8_t fault;
    uint32_t since_us;    /* the phase's time counts from here */
    uint32_t duration_us; /* taken over at the start of the phase */
    uint32_t weld_since_us; /* the weld limit counts from here */
    uint32_t contactor_on_us; /* latest pass that found the contactor on, or as long ago as an arc can last */
    bool spot;
    bool stitch;
    bool arc_established;
    bool arc_seen_open;
    bool pressed_again;
    bool limited;
    bool all_well;
    bool settled;
    bool seen_open;
    bool trigger_was;
    bool purge_was;
} sequence_state;

/* Puts the state of a board that has just started: hold-off, with nothing seen open yet. */
void sequence_start(sequence_state *state, uint32_t now_us);

/* Runs one pass at now_us (microseconds, wrapping at 2^32); returns the outputs byte that then stands. */
uint8_t sequence_step(sequence_state *state, const sequence_inputs *inputs, uint32_t now_us);

#ifdef __cplusplus
}
#endif

#endif
