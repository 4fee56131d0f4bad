/*
 * The edge trace.
 *
 * spot_stitch, design 87d79af519c50507, made by wirecue 0.0.0.
 * Made from the design file: change that and build again, so that board, bench and papers keep agreeing.
 */

#include "trace.h"

static trace_record records[TRACE_RECORDS];
static uint8_t oldest;
static uint8_t count;
static uint16_t lost;
static uint16_t last_levels;
static uint8_t last_phase_and_fault;

static uint8_t wrapped(uint8_t index) {
    return index < TRACE_RECORDS ? index : (uint8_t)(index - TRACE_RECORDS);
}

bool trace_note(uint16_t levels, uint8_t phase, uint8_t fault, uint32_t now_us) {
    const uint8_t phase_and_fault = (uint8_t)(phase | (fault << 4));
    if (levels == last_levels && phase_and_fault == last_phase_and_fault) {
        return false;
    }
    last_levels = levels;
    last_phase_and_fault = phase_and_fault;
    if (count >= TRACE_RECORDS) {
        if (lost < UINT16_MAX) {
            lost++;
        }
        return true;
    }
    trace_record *record = &records[wrapped((uint8_t)(oldest + count))];
    record->time_us = now_us;
    record->levels = levels;
    record->phase_and_fault = phase_and_fault;
    count++;
    return true;
}

uint8_t trace_count(void) {
    return count;
}

const trace_record *trace_take(void) {
    const trace_record *const taken = &records[oldest];
    oldest = wrapped((uint8_t)(oldest + 1u));
    count--;
    return taken;
}

uint16_t trace_lost(void) {
    return lost;
}

void trace_clear(void) {
    count = 0;
    lost = 0;
}
