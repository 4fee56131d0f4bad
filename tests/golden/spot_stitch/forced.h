/*
 * States forced from the bench, in the place of pins and readings. Portable C99.
 *
 * spot_stitch, design 87d79af519c50507, made by wirecue 0.0.0.
 * Made from the design file: change that and build again, so that board, bench and papers keep agreeing.
 */

#ifndef FORCED_H
#define FORCED_H

#include <stdbool.h>
#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

/* Forced states lapse when no complete line came for this long. */
#define LAPSE_US UINT32_C(1000000)

/* Contacts that stand in the place of the pins, until released or lapsed. */
void forced_set_contacts(uint16_t contacts, uint32_t now_us);

/* Contacts that come from their pins all the same, as long. */
void forced_leave(uint16_t contacts);

/* Tells that a channel's readings are forced from now on. */
void forced_hold_reading(uint8_t reading);

/* Tells whether they are. */
bool forced_holds_reading(uint8_t reading);

/* Ends all forced states. */
void forced_release(void);

/* A complete line came. */
void forced_keep(uint32_t now_us);

/* Ends all forced states when it is time; called once a pass. */
void forced_lapse(uint32_t now_us);

/* Tells whether anything is forced. */
bool forced_any(void);

/* Tells whether contacts are forced. */
bool forced_has_contacts(void);

/* The contacts that count, by those that the pins show. */
uint16_t forced_over(uint16_t pins);

/* The forced contacts, and since when; 0 while none are. */
uint16_t forced_contacts(void);
uint32_t forced_since_us(void);

#ifdef __cplusplus
}
#endif

#endif
