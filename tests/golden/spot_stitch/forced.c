/*
 * States forced from the bench.
 *
 * spot_stitch, design 87d79af519c50507, made by wirecue 0.0.0.
 * Made from the design file: change that and build again, so that board, bench and papers keep agreeing.
 */

#include "forced.h"

static bool has_contacts;
static uint16_t contacts;
static uint16_t left; /* to their pins */
static uint32_t since_us;
static uint32_t kept_us;
static uint8_t held_readings; /* one bit a channel */

void forced_set_contacts(uint16_t wanted, uint32_t now_us) {
    has_contacts = true;
    contacts = wanted;
    since_us = now_us;
}

void forced_leave(uint16_t wanted) {
    left = wanted;
}

void forced_hold_reading(uint8_t reading) {
    held_readings = (uint8_t)(held_readings | (1u << reading));
}

bool forced_holds_reading(uint8_t reading) {
    return (held_readings & (1u << reading)) != 0;
}

void forced_release(void) {
    has_contacts = false;
    contacts = 0;
    left = 0;
    since_us = 0;
    held_readings = 0;
}

void forced_keep(uint32_t now_us) {
    kept_us = now_us;
}

void forced_lapse(uint32_t now_us) {
    if ((uint32_t)(now_us - kept_us) >= LAPSE_US) {
        forced_release();
    }
}

bool forced_any(void) {
    return has_contacts || held_readings != 0;
}

bool forced_has_contacts(void) {
    return has_contacts;
}

uint16_t forced_over(uint16_t pins) {
    return has_contacts ? (uint16_t)((contacts & ~left) | (pins & left)) : pins;
}

uint16_t forced_contacts(void) {
    return contacts;
}

uint32_t forced_since_us(void) {
    return since_us;
}
