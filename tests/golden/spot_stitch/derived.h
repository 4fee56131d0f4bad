/*
 * What follows from settings.h, and what it must keep to. Nothing to change here.
 *
 * spot_stitch, design 87d79af519c50507, made by wirecue 0.0.0.
 * Made from the design file: change that and build again, so that board, bench and papers keep agreeing.
 */

#ifndef DERIVED_H
#define DERIVED_H

#include "settings.h"

/* ---- Hold-off after power-up or a fault ----
 * The supply good for the first time, then trigger and buttons open for the second, or twice the longest filter. */
#define SETTLE_US UINT32_C(500000) /* 500 ms */
#define SHORTEST_OPEN_US UINT32_C(50000) /* 50 ms */
#define LONGER_OF(some_us, others_us) ((some_us) > (others_us) ? (some_us) : (others_us))
#define LONGEST_FILTER_US LONGER_OF(LONGER_OF(TRIGGER_FILTER_US, PURGE_FILTER_US), ARC_FILTER_US)
#if 2 * LONGEST_FILTER_US <= SHORTEST_OPEN_US
#define OPEN_US SHORTEST_OPEN_US
#elif LONGEST_FILTER_US == TRIGGER_FILTER_US
#define OPEN_US (2u * TRIGGER_FILTER_US)
#elif LONGEST_FILTER_US == PURGE_FILTER_US
#define OPEN_US (2u * PURGE_FILTER_US)
#else
#define OPEN_US (2u * ARC_FILTER_US)
#endif

/* How long an arc may still be sensed once the contactor is off. */
#define ARC_END_US (CONTACTOR_OFF_DELAY_US + ARC_FILTER_US)

/* A pass later than this is a stall: the next phase then counts from the pass and is not cut short. */
#define STALL_US UINT32_C(1000) /* 1 ms */

/* The longest gap that does not restart the count towards closed: for a contact sensed through ac, as long as its
 * filter. */
#define TRIGGER_BRIDGE_US 0u
#define PURGE_BRIDGE_US 0u
#define ARC_BRIDGE_US 0u

/* The converter's highest reading. */
#define FULL_SCALE 1023u

/* ---- Dials: the upper end mirrors the lower; the time rises evenly between them, in sixteenths of 1 us a count ---- */
#define DIAL_FAULT_ABOVE (FULL_SCALE - DIAL_FAULT_BELOW)
#define DIAL_HIGH_COUNTS (FULL_SCALE - DIAL_LOW_COUNTS)
#define STEP_Q4_US(low_us, high_us) ((((high_us) - (low_us)) << 4) / (DIAL_HIGH_COUNTS - DIAL_LOW_COUNTS))
#define SPOT_STEP_Q4_US STEP_Q4_US(SPOT_LOW_US, SPOT_HIGH_US)
#define BURNBACK_STEP_Q4_US STEP_Q4_US(BURNBACK_LOW_US, BURNBACK_HIGH_US)
#define PAUSE_STEP_Q4_US STEP_Q4_US(PAUSE_LOW_US, PAUSE_HIGH_US)

/* ---- What the numbers of settings.h may be ---- */
#if GAS_VALVE_ON_HIGH < 0 || GAS_VALVE_ON_HIGH > 1
#error "settings.h: GAS_VALVE_ON_HIGH may be 0 or 1"
#endif
#if WIRE_DRIVE_ON_HIGH < 0 || WIRE_DRIVE_ON_HIGH > 1
#error "settings.h: WIRE_DRIVE_ON_HIGH may be 0 or 1"
#endif
#if CONTACTOR_ON_HIGH < 0 || CONTACTOR_ON_HIGH > 1
#error "settings.h: CONTACTOR_ON_HIGH may be 0 or 1"
#endif
#if SPOT_CHANNEL < 0 || SPOT_CHANNEL > 7
#error "settings.h: SPOT_CHANNEL may be 0 to 7"
#endif
#if BURNBACK_CHANNEL < 0 || BURNBACK_CHANNEL > 7
#error "settings.h: BURNBACK_CHANNEL may be 0 to 7"
#endif
#if PAUSE_CHANNEL < 0 || PAUSE_CHANNEL > 7
#error "settings.h: PAUSE_CHANNEL may be 0 to 7"
#endif
#if SUPPLY_CHANNEL < 0 || SUPPLY_CHANNEL > 7
#error "settings.h: SUPPLY_CHANNEL may be 0 to 7"
#endif
#if PREFLOW_US < 0 || PREFLOW_US > 60000000
#error "settings.h: PREFLOW_US may be 0 ms to 60 s (0 to 60000000)"
#endif
#if SPOT_LOW_US < 1000 || SPOT_LOW_US > 60000000
#error "settings.h: SPOT_LOW_US may be 1 ms to 60 s (1000 to 60000000)"
#endif
#if SPOT_HIGH_US < 1000 || SPOT_HIGH_US > 60000000
#error "settings.h: SPOT_HIGH_US may be 1 ms to 60 s (1000 to 60000000)"
#endif
#if BURNBACK_LOW_US < 0 || BURNBACK_LOW_US > 2000000
#error "settings.h: BURNBACK_LOW_US may be 0 ms to 2 s (0 to 2000000)"
#endif
#if BURNBACK_HIGH_US < 0 || BURNBACK_HIGH_US > 2000000
#error "settings.h: BURNBACK_HIGH_US may be 0 ms to 2 s (0 to 2000000)"
#endif
#if POSTFLOW_US < 0 || POSTFLOW_US > 60000000
#error "settings.h: POSTFLOW_US may be 0 ms to 60 s (0 to 60000000)"
#endif
#if PAUSE_LOW_US < 0 || PAUSE_LOW_US > 60000000
#error "settings.h: PAUSE_LOW_US may be 0 ms to 60 s (0 to 60000000)"
#endif
#if PAUSE_HIGH_US < 0 || PAUSE_HIGH_US > 60000000
#error "settings.h: PAUSE_HIGH_US may be 0 ms to 60 s (0 to 60000000)"
#endif
#if WELD_LIMIT_US < 100000 || WELD_LIMIT_US > 1800000000
#error "settings.h: WELD_LIMIT_US may be 100 ms to 1800 s (100000 to 1800000000)"
#endif
#if ARC_START_LIMIT_US < 50000 || ARC_START_LIMIT_US > 60000000
#error "settings.h: ARC_START_LIMIT_US may be 50 ms to 60 s (50000 to 60000000)"
#endif
#if CONTACTOR_OFF_DELAY_US < 0 || CONTACTOR_OFF_DELAY_US > 2000000
#error "settings.h: CONTACTOR_OFF_DELAY_US may be 0 ms to 2 s (0 to 2000000)"
#endif
#if PURGE_LIMIT_US < 100000 || PURGE_LIMIT_US > 600000000
#error "settings.h: PURGE_LIMIT_US may be 100 ms to 600 s (100000 to 600000000)"
#endif
#if TRIGGER_FILTER_US < 0 || TRIGGER_FILTER_US > 100000
#error "settings.h: TRIGGER_FILTER_US may be 0 ms to 100 ms (0 to 100000)"
#endif
#if PURGE_FILTER_US < 0 || PURGE_FILTER_US > 100000
#error "settings.h: PURGE_FILTER_US may be 0 ms to 100 ms (0 to 100000)"
#endif
#if ARC_FILTER_US < 0 || ARC_FILTER_US > 100000
#error "settings.h: ARC_FILTER_US may be 0 ms to 100 ms (0 to 100000)"
#endif
#if DIAL_FAULT_BELOW < 0 || DIAL_FAULT_BELOW > 1023
#error "settings.h: DIAL_FAULT_BELOW may be 0 to 1023"
#endif
#if DIAL_LOW_COUNTS < 1 || DIAL_LOW_COUNTS > 510
#error "settings.h: DIAL_LOW_COUNTS may be 1 to 510"
#endif
#if SUPPLY_LOW_COUNTS < 0 || SUPPLY_LOW_COUNTS > 1023
#error "settings.h: SUPPLY_LOW_COUNTS may be 0 to 1023"
#endif
#if SUPPLY_GOOD_COUNTS < 0 || SUPPLY_GOOD_COUNTS > 1023
#error "settings.h: SUPPLY_GOOD_COUNTS may be 0 to 1023"
#endif
#if SUPPLY_FILTER_US < 0 || SUPPLY_FILTER_US > 200000
#error "settings.h: SUPPLY_FILTER_US may be 0 ms to 200 ms (0 to 200000)"
#endif
#if BURNBACK_LOW_US >= BURNBACK_HIGH_US
#error "settings.h: BURNBACK_LOW_US must be less than BURNBACK_HIGH_US"
#endif
#if PAUSE_LOW_US >= PAUSE_HIGH_US
#error "settings.h: PAUSE_LOW_US must be less than PAUSE_HIGH_US"
#endif
#if SPOT_LOW_US >= SPOT_HIGH_US
#error "settings.h: SPOT_LOW_US must be less than SPOT_HIGH_US"
#endif
#if SUPPLY_LOW_COUNTS >= SUPPLY_GOOD_COUNTS
#error "settings.h: SUPPLY_LOW_COUNTS must be less than SUPPLY_GOOD_COUNTS"
#endif
#if DIAL_FAULT_BELOW >= DIAL_LOW_COUNTS
#error "settings.h: DIAL_FAULT_BELOW must be less than DIAL_LOW_COUNTS"
#endif

#endif
