/*
 * The supply sense.
 *
 * spot_stitch, design 87d79af519c50507, made by wirecue 0.0.0.
 * Made from the design file: change that and build again, so that board, bench and papers keep agreeing.
 */

#include "supply.h"

#include "settings.h"

enum {
    SUPPLY_GOOD,    /* at or above the upper threshold */
    SUPPLY_BETWEEN, /* good enough to go on, not to begin */
    SUPPLY_BELOW,   /* below the lower threshold, for less than the filter time */
    SUPPLY_LOW
};

static uint8_t supply;
static uint32_t below_since_us;

void supply_start(void) {
    supply = SUPPLY_BETWEEN;
}

void supply_reading(uint16_t counts, uint32_t now_us) {
    if (counts >= SUPPLY_GOOD_COUNTS) {
        supply = SUPPLY_GOOD;
        return;
    }
    if (counts >= SUPPLY_LOW_COUNTS) {
        supply = SUPPLY_BETWEEN;
        return;
    }
    if (supply < SUPPLY_BELOW) {
        supply = SUPPLY_BELOW;
        below_since_us = now_us;
    }
    if ((uint32_t)(now_us - below_since_us) >= SUPPLY_FILTER_US) {
        supply = SUPPLY_LOW;
    }
}

bool supply_is_low(void) {
    return supply == SUPPLY_LOW;
}

bool supply_is_good(void) {
    return supply == SUPPLY_GOOD;
}
