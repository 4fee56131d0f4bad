/*
 * The serial port as the link sees it. Nothing here waits.
 *
 * spot_stitch, design 87d79af519c50507, made by wirecue 0.0.0.
 * Made from the design file: change that and build again, so that board, bench and papers keep agreeing.
 */

#ifndef PORT_H
#define PORT_H

#include <stdbool.h>
#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

/* What the link finds when it looks for a character. */
enum {
    PORT_NOTHING,   /* nothing came */
    PORT_CHARACTER, /* a character as it was sent */
    PORT_OVERRUN,   /* characters were lost; the line that they were part of ends here */
    PORT_FRAMING    /* a character was mutilated; its line ends here */
};

void port_start(void);

/* Fetches what has come in; called in every pass. */
void port_poll(void);

/* Takes what was received next, in the order in which it came. */
uint8_t port_receive(char *character);

/* Tells whether a character can be sent without waiting. */
bool port_can_send(void);

void port_send(char character);

/* Tells whether the host asks for the bootloader, in order to load another sketch. */
bool port_wants_bootloader(void);

#ifdef __cplusplus
}
#endif

#endif
