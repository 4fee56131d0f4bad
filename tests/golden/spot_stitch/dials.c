/*
 * The dials: from readings of the converter to times, in whole numbers.
 *
 * spot_stitch, design 87d79af519c50507, made by wirecue 0.0.0.
 * Made from the design file: change that and build again, so that board, bench and papers keep agreeing.
 */

#include "dials.h"

#include "derived.h"

static uint32_t time_us[DIAL_COUNT];
static uint8_t faulty; /* one bit a dial */

static uint32_t between(uint16_t counts, uint32_t low_us, uint32_t high_us, uint32_t step_q4_us) {
    if (counts <= DIAL_LOW_COUNTS) {
        return low_us;
    }
    if (counts >= DIAL_HIGH_COUNTS) {
        return high_us;
    }
    return low_us + (((counts - DIAL_LOW_COUNTS) * step_q4_us) >> 4);
}

uint32_t dials_scaled_us(uint8_t dial, uint16_t counts) {
    switch (dial) {
    case DIAL_SPOT:
        return between(counts, SPOT_LOW_US, SPOT_HIGH_US, SPOT_STEP_Q4_US);
    case DIAL_BURNBACK:
        return between(counts, BURNBACK_LOW_US, BURNBACK_HIGH_US, BURNBACK_STEP_Q4_US);
    case DIAL_PAUSE:
        return between(counts, PAUSE_LOW_US, PAUSE_HIGH_US, PAUSE_STEP_Q4_US);
    default:
        return 0;
    }
}

void dials_start(void) {
    for (uint8_t dial = 0; dial < DIAL_COUNT; dial++) {
        time_us[dial] = dials_scaled_us(dial, 0);
    }
    faulty = 0;
}

void dials_reading(uint8_t dial, uint16_t counts) {
    const uint8_t bit = (uint8_t)(1u << dial);
    if (counts < DIAL_FAULT_BELOW || counts > DIAL_FAULT_ABOVE) {
        faulty = (uint8_t)(faulty | bit);
        return;
    }
    faulty = (uint8_t)(faulty & ~bit);
    time_us[dial] = dials_scaled_us(dial, counts);
}

uint32_t dials_time_us(uint8_t dial) {
    return time_us[dial];
}

bool dials_fault(void) {
    return faulty != 0;
}
