/*
 * The serial port of an AVR.
 *
 * spot_stitch, design 87d79af519c50507, made by wirecue 0.0.0.
 * Made from the design file: change that and build again, so that board, bench and papers keep agreeing.
 */

#include "port.h"

#include <Arduino.h>

#define LINK_UART 0
#if defined(LINK_UART)
#include "received.h"

/* ---- Hardware port, polled ----
 * A pass is shorter than a character takes, and the hardware keeps two: no interrupt is needed, and none delays an
 * edge. Should a character be lost all the same, the hardware says so. */

#define BAUD 115200ul

#define JOINED(before, number, after) before##number##after
#define UART(before, number, after) JOINED(before, number, after)
#define STATUS UART(UCSR, LINK_UART, A)
#define CONTROL UART(UCSR, LINK_UART, B)
#define DATA UART(UDR, LINK_UART, )
#define DIVIDER UART(UBRR, LINK_UART, )
#define RECEIVED_BIT UART(RXC, LINK_UART, )
#define OVERRUN_BIT UART(DOR, LINK_UART, )
#define FRAMING_BIT UART(FE, LINK_UART, )
#define FREE_BIT UART(UDRE, LINK_UART, )

void port_start(void) {
    STATUS |= _BV(UART(U2X, LINK_UART, )); /* the others are flags of the hardware */
    DIVIDER = (uint16_t)((F_CPU / 4 / BAUD - 1) / 2);
    CONTROL = (uint8_t)(_BV(UART(RXEN, LINK_UART, )) | _BV(UART(TXEN, LINK_UART, )));
}

void port_poll(void) {
    const uint8_t status = STATUS; /* belongs to the character that DATA gives next, and is gone with it */
    if ((status & _BV(RECEIVED_BIT)) == 0) {
        return;
    }
    const char character = (char)DATA;
    /* A flagged character is given up with its line: what came before it is missing, or it is not what was sent. */
    if ((status & _BV(OVERRUN_BIT)) != 0) {
        received_error(PORT_OVERRUN);
    } else if ((status & _BV(FRAMING_BIT)) != 0) {
        received_error(PORT_FRAMING);
    } else {
        received_character(character);
    }
}

uint8_t port_receive(char *character) {
    return received_take(character);
}

bool port_can_send(void) {
    return (STATUS & _BV(FREE_BIT)) != 0;
}

void port_send(char character) {
    DATA = (uint8_t)character;
}

bool port_wants_bootloader(void) {
    return false; /* opening the port resets the board by itself */
}
#endif
