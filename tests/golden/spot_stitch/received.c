/*
 * What a hardware port received and the link has not taken yet.
 *
 * spot_stitch, design 87d79af519c50507, made by wirecue 0.0.0.
 * Made from the design file: change that and build again, so that board, bench and papers keep agreeing.
 */

#include "received.h"

#include <stdbool.h>

#include "port.h"

#define SIZE 64u /* a power of two */
/* Stand in the buffer where something was lost. Their own codes are white space (IEEE 488.2, 7.4.1.2), kept as blanks. */
#define MARK_OVERRUN '\0'
#define MARK_FRAMING '\1'

static char buffer[SIZE];
static uint8_t head;
static uint8_t tail;
static bool dropping; /* up to the end of the line */

/* Free places. The last one is for a mark: where there is none left, the newest is a mark. */
static uint8_t room(void) {
    return (uint8_t)(((unsigned)tail - head - 1u) & (SIZE - 1u));
}

static void keep(char character) {
    buffer[head] = character;
    head = (uint8_t)((head + 1u) & (SIZE - 1u));
}

static void mark(char what) {
    if (!dropping && room() > 0) {
        keep(what);
    }
}

void received_character(char character) {
    if (!dropping && room() > 1u) {
        keep(character == MARK_OVERRUN || character == MARK_FRAMING ? ' ' : character);
        return;
    }
    mark(MARK_OVERRUN);
    dropping = character != '\n';
}

void received_error(uint8_t error) {
    mark(error == PORT_OVERRUN ? MARK_OVERRUN : MARK_FRAMING);
    dropping = true;
}

uint8_t received_take(char *character) {
    if (tail == head) {
        return PORT_NOTHING;
    }
    *character = buffer[tail];
    tail = (uint8_t)((tail + 1u) & (SIZE - 1u));
    if (*character == MARK_OVERRUN) {
        return PORT_OVERRUN;
    }
    return *character == MARK_FRAMING ? PORT_FRAMING : PORT_CHARACTER;
}
