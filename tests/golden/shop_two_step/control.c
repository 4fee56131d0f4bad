/*
 * From contacts and readings to outputs.
 *
 * shop_two_step, design c9a9dd55f7f73f17, made by wirecue 0.0.0.
 * Made from the design file: change that and build again, so that board, bench and papers keep agreeing.
 */

#include "control.h"

#include "derived.h"
#include "dials.h"
#include "filter.h"
#include "forced.h"
#include "lamp.h"
#include "link_status.h"
#include "sequence.h"
#include "supply.h"
#include "trace.h"

static sequence_state sequence;
static sequence_inputs inputs;
static uint16_t seen; /* what the last pass saw, in the bits of the levels word */
static contact_filter trigger_filter;
static contact_filter purge_filter;
static contact_filter inch_filter;
#define NO_READING UINT16_MAX
static uint16_t latest_counts[READING_COUNT];
static uint16_t earlier_counts[READING_COUNT]; /* the reading before that */

static bool closed(uint16_t contacts, uint16_t bit) {
    return (contacts & bit) != 0;
}

/* Puts all times in the place where the sequence sees them; a dial's reading and a switch that moves do it again, and
 * the other passes are shorter for it. */
static void put_times(void) {
    inputs.preflow_us = dials_time_us(DIAL_PREFLOW);
    inputs.burnback_us = dials_time_us(DIAL_BURNBACK);
    inputs.postflow_us = dials_time_us(DIAL_POSTFLOW);
}

/* Looks at one pass's contacts. */
static void look(uint16_t contacts, uint32_t now_us) {
    inputs.trigger = filter_read(&trigger_filter, closed(contacts, CONTACT_TRIGGER), TRIGGER_FILTER_US,
                                 TRIGGER_BRIDGE_US, now_us);
    inputs.purge = filter_read(&purge_filter, closed(contacts, CONTACT_PURGE), PURGE_FILTER_US,
                                 PURGE_BRIDGE_US, now_us);
    inputs.inch = filter_read(&inch_filter, closed(contacts, CONTACT_INCH), INCH_FILTER_US,
                                 INCH_BRIDGE_US, now_us);
    inputs.supply_low = supply_is_low();
    inputs.supply_poor = !supply_is_good();
    inputs.dial_fault = dials_fault();
}

static uint16_t levels_seen(void) {
    uint16_t levels = 0;
    if (inputs.trigger) {
        levels |= LEVEL_TRIGGER;
    }
    if (inputs.purge) {
        levels |= LEVEL_PURGE;
    }
    if (inputs.inch) {
        levels |= LEVEL_INCH;
    }
    if (inputs.supply_low) {
        levels |= LEVEL_SUPPLY_LOW;
    }
    if (inputs.dial_fault) {
        levels |= LEVEL_DIAL_FAULT;
    }
    return levels;
}

void control_start(uint32_t now_us) {
    for (uint8_t reading = 0; reading < READING_COUNT; reading++) {
        latest_counts[reading] = NO_READING;
        earlier_counts[reading] = NO_READING;
    }
    dials_start();
    supply_start();
    put_times();
    control_restart(now_us);
}

void control_restart(uint32_t now_us) {
    sequence_start(&sequence, now_us);
}

static void take_dial(uint8_t dial, uint16_t counts) {
    dials_reading(dial, counts);
    switch (dial) {
    case DIAL_PREFLOW:
        inputs.preflow_us = dials_time_us(DIAL_PREFLOW);
        break;
    case DIAL_BURNBACK:
        inputs.burnback_us = dials_time_us(DIAL_BURNBACK);
        break;
    case DIAL_POSTFLOW:
        inputs.postflow_us = dials_time_us(DIAL_POSTFLOW);
        break;
    default:
        break;
    }
}

static void take_reading(uint8_t reading, uint16_t counts, uint32_t now_us) {
    if (reading == READING_SUPPLY) {
        supply_reading(counts, now_us);
    } else {
        take_dial(reading, counts);
    }
}

static uint16_t middle(uint16_t one, uint16_t other, uint16_t third) {
    const uint16_t lower = one < other ? one : other;
    const uint16_t upper = one < other ? other : one;
    if (third < lower) {
        return lower;
    }
    return third > upper ? upper : third;
}

void control_reading(uint8_t reading, uint16_t counts, uint32_t now_us) {
    const uint16_t second = latest_counts[reading];
    if (forced_holds_reading(reading)) {
        take_reading(reading, second, now_us);
        return;
    }
    const uint16_t third = earlier_counts[reading];
    latest_counts[reading] = counts;
    earlier_counts[reading] = second;
    if (third != NO_READING) { /* three are there */
        take_reading(reading, middle(counts, second, third), now_us);
    }
}

void control_force_reading(uint8_t reading, uint16_t counts, uint32_t now_us) {
    forced_hold_reading(reading);
    latest_counts[reading] = counts;
    earlier_counts[reading] = counts;
    take_reading(reading, counts, now_us);
}

uint16_t control_counts(uint8_t reading) {
    return latest_counts[reading] != NO_READING ? latest_counts[reading] : 0;
}

uint8_t control_step(uint16_t pins, uint32_t now_us) {
    look(forced_over(pins), now_us);
    seen = levels_seen();
    return sequence_step(&sequence, &inputs, now_us);
}

bool control_note(uint8_t outputs, uint32_t now_us) {
    return trace_note(seen | outputs, sequence.phase, sequence.fault, now_us);
}

bool control_lamp(uint32_t now_us) {
    return lamp_lit(sequence.phase, sequence.fault, forced_any(), now_us);
}

uint8_t control_phase(void) {
    return sequence.phase;
}

uint8_t control_fault(void) {
    return sequence.fault;
}

uint8_t control_standing_fault(void) {
    if (supply_is_low() || (sequence.phase == PHASE_HOLD_OFF && !supply_is_good())) {
        return FAULT_SUPPLY;
    }
    if ((seen & LEVEL_DIAL_FAULT) != 0) {
        return FAULT_DIAL;
    }
    return FAULT_NONE;
}

uint8_t control_conditions(void) {
    uint8_t conditions = forced_any() ? CONDITION_FORCED : 0;
    if ((seen & LEVEL_SUPPLY_LOW) != 0) {
        conditions |= CONDITION_SUPPLY_LOW;
    }
    if ((seen & LEVEL_DIAL_FAULT) != 0) {
        conditions |= CONDITION_DIAL_FAULT;
    }
    if (sequence.phase == PHASE_HOLD_OFF) {
        conditions |= CONDITION_HOLD_OFF;
    } else if (sequence.phase != PHASE_IDLE) {
        conditions |= CONDITION_SEQUENCE;
    }
    return conditions;
}
