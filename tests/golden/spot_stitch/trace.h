/*
 * The edge trace: what the board itself saw and did, and when. Portable C99.
 *
 * spot_stitch, design 87d79af519c50507, made by wirecue 0.0.0.
 * Made from the design file: change that and build again, so that board, bench and papers keep agreeing.
 */

#ifndef TRACE_H
#define TRACE_H

#include <stdbool.h>
#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

#define TRACE_RECORDS 24u

/* Bits of the levels word: outputs as read back from the pins, then what the sequence sees. */
#define LEVEL_GAS_VALVE 1u
#define LEVEL_WIRE_DRIVE 2u
#define LEVEL_CONTACTOR 4u
#define LEVEL_TRIGGER 8u
#define LEVEL_PURGE 16u
#define LEVEL_INCH 32u
#define LEVEL_ARC 64u
#define LEVEL_INTERLOCK_OPEN 128u
#define LEVEL_SUPPLY_LOW 256u
#define LEVEL_DIAL_FAULT 512u

typedef struct {
    uint32_t time_us;
    uint16_t levels;
    uint8_t phase_and_fault; /* phase in the lower four bits, fault in the upper four */
} trace_record;

/* Adds a record if levels, phase or fault differ from the latest; while the trace is full it is only
 * counted. Tells whether they differed. */
bool trace_note(uint16_t levels, uint8_t phase, uint8_t fault, uint32_t now_us);

/* Number of records. */
uint8_t trace_count(void);

/* Takes out the oldest record; there must be one. It stays readable until the next is added. */
const trace_record *trace_take(void);

/* Records lost since the last clear. */
uint16_t trace_lost(void);

/* Forgets the records and the count of lost ones. */
void trace_clear(void);

#ifdef __cplusplus
}
#endif

#endif
