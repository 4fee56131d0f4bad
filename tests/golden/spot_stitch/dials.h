/*
 * The dials: from readings of the converter to times. Portable C99.
 *
 * spot_stitch, design 87d79af519c50507, made by wirecue 0.0.0.
 * Made from the design file: change that and build again, so that board, bench and papers keep agreeing.
 */

#ifndef DIALS_H
#define DIALS_H

#include <stdbool.h>
#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

enum {
    DIAL_SPOT = 0,
    DIAL_BURNBACK = 1,
    DIAL_PAUSE = 2,
    DIAL_COUNT = 3
};

/* Puts every dial at its low end, until it was read. */
void dials_start(void);

/* Takes one reading of one dial: the middle one of three. A sound one sets its time; a broken or shorted wire leaves the last good time. */
void dials_reading(uint8_t dial, uint16_t counts);

/* The time that a dial gives, in microseconds. */
uint32_t dials_time_us(uint8_t dial);

/* Tells whether a dial's wire is broken or shorted: a reading that no sound dial can give. */
bool dials_fault(void);

/* The time at one reading. */
uint32_t dials_scaled_us(uint8_t dial, uint16_t counts);

#ifdef __cplusplus
}
#endif

#endif
