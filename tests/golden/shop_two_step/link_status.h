/*
 * Error queue and status registers of the serial link, after IEEE 488.2 and SCPI-99. Portable C99.
 *
 * shop_two_step, design c9a9dd55f7f73f17, made by wirecue 0.0.0.
 * Made from the design file: change that and build again, so that board, bench and papers keep agreeing.
 */

#ifndef LINK_STATUS_H
#define LINK_STATUS_H

#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

/* Bits of the standard event status register. */
#define EVENT_OPERATION_COMPLETE 1u
#define EVENT_QUERY_ERROR 4u
#define EVENT_DEVICE_ERROR 8u
#define EVENT_EXECUTION_ERROR 16u
#define EVENT_COMMAND_ERROR 32u
#define EVENT_POWER_ON 128u

/* What the status registers show, one bit each. */
#define CONDITION_SUPPLY_LOW 1u
#define CONDITION_DIAL_FAULT 2u
#define CONDITION_INTERLOCK_OPEN 4u
#define CONDITION_HOLD_OFF 8u
#define CONDITION_SEQUENCE 16u
#define CONDITION_FORCED 32u

void status_start(void);

/* Queues an error and sets its event; the newest entry of a full queue becomes "Queue overflow". */
void status_error(uint8_t error);

/* Takes out the oldest error; returns its number and text as the link answers them, in flash. */
const char *status_next_error(void);

/* Empties error queue and event register. */
void status_clear(void);

void status_event(uint8_t bits);

/* The event register, which this empties. */
uint8_t status_take_events(void);

uint8_t status_event_enable(void);
void status_set_event_enable(uint8_t bits);
uint8_t status_service_enable(void);
void status_set_service_enable(uint8_t bits);

/* Takes the conditions of a pass, as bits; what begins becomes an event of its register. */
void status_watch(uint8_t conditions);

/* STATus:OPERATION: what stands; what has begun, which the second empties. */
uint16_t status_operation_condition(void);
uint16_t status_take_operation(void);

/* STATus:QUESTIONABLE: what stands; what has begun, which the second empties. */
uint16_t status_questionable_condition(void);
uint16_t status_take_questionable(void);

/* The enable registers of both; preset empties them. */
enum { ENABLE_OPERATION, ENABLE_QUESTIONABLE, ENABLE_COUNT };
uint16_t status_enable(uint8_t which);
void status_set_enable(uint8_t which, uint16_t bits);
void status_preset(void);

/* The status byte. */
uint8_t status_byte(void);

#ifdef __cplusplus
}
#endif

#endif
