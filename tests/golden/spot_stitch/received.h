/*
 * What a hardware port received and the link has not taken yet. Portable C99.
 *
 * spot_stitch, design 87d79af519c50507, made by wirecue 0.0.0.
 * Made from the design file: change that and build again, so that board, bench and papers keep agreeing.
 */

#ifndef RECEIVED_H
#define RECEIVED_H

#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

/* Keeps a character. Where there is no room for it, the rest of its line is lost, too, and counts as an overrun. */
void received_character(char character);

/* Gives the present line up after PORT_OVERRUN or PORT_FRAMING: what comes up to its end is dropped. */
void received_error(uint8_t error);

/* As port_receive. */
uint8_t received_take(char *character);

#ifdef __cplusplus
}
#endif

#endif
