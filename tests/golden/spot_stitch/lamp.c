/*
 * The status lamp.
 *
 * spot_stitch, design 87d79af519c50507, made by wirecue 0.0.0.
 * Made from the design file: change that and build again, so that board, bench and papers keep agreeing.
 */

#include "lamp.h"

#include "reset.h"
#include "sequence.h"

/* Patterns move in ticks of 2^16 us, about 66 ms; they need no division and no clock of their own. */
#define TICK_BITS 16
#define BLINK_TICKS 6u /* one blink of a number: half on, half off */
#define REST_TICKS 15u /* between two numbers */

static uint16_t last_tick;
static uint8_t blinks_done;
static uint8_t blink_tick;
static uint8_t told; /* the reset that is still to be told, RESET_UNTOLD for none */

/* Moves the pattern of a number on by one tick. */
static void advance(uint8_t number) {
    blink_tick++;
    if (blinks_done < number) {
        if (blink_tick >= BLINK_TICKS) {
            blink_tick = 0;
            blinks_done++;
        }
    } else if (blink_tick >= REST_TICKS) {
        blink_tick = 0;
        blinks_done = 0;
    }
}

void lamp_start(uint8_t cause) {
    told = cause >= RESET_FIRST_ON_LAMP ? cause : (uint8_t)RESET_UNTOLD;
}

bool lamp_lit(uint8_t phase, uint8_t fault, bool forced, uint32_t now_us) {
    const uint8_t number = fault != FAULT_NONE ? fault : told;
    const uint16_t tick = (uint16_t)(now_us >> TICK_BITS);
    if (tick != last_tick) {
        last_tick = tick;
        advance(number);
    }
    if (forced) {
        return (tick & 1u) != 0;
    }
    const bool blinks = blinks_done < number && blink_tick < BLINK_TICKS / 2u;
    if (fault != FAULT_NONE) {
        return blinks;
    }
    switch (phase) {
    case PHASE_IDLE:
        return !blinks;
    case PHASE_HOLD_OFF:
    case PHASE_AWAIT_RELEASE:
        return (tick & 8u) != 0;
    default:
        told = RESET_UNTOLD; /* somebody pressed, and has seen it or not */
        return (tick & 4u) != 0;
    }
}
