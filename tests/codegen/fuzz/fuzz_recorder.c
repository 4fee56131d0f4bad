/*
 * Plays what libFuzzer makes up to the recorder's portable C, around which tests/support/recorder_bridge.c stands, and
 * says BROKEN where something does not hold:
 *
 *   without the jumper nothing is ever pressed; with it a press lapses
 *   every answer is of a line that came, in printable characters
 *   the trace keeps no more than it may, and a bridge no more than 16 bits of microseconds
 *   whatever came, *OPC? is answered afterwards
 *
 * A script: the first byte says whether the jumper is fitted. Then a byte below 0x80 is a character of the host's; 0x80
 * to 0x87 let looks pass, 1 to 128; 0x88 to 0x8f turn an input over; 0x90 to 0x97 let 0.25 s to 2 s pass; others count as
 * the character without its highest bit.
 */
#include "recorder_bridge.c"

#include <stdio.h>
#include <stdlib.h>

#include "link_status.h"
#include "trace.h"

#define MOST_LEAPS 8u
#define LOOKS_A_LEAP (250000u / SAMPLE_US)
#define PATIENCE 4000u

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

static struct {
    uint32_t line_at_look;
    size_t lines;
    size_t answers;
    char waiting[2]; /* one character, and its end */
    size_t leaps;
} run;

static void broken(const char *what) {
    fprintf(stderr, "BROKEN: %s\n", what);
    abort();
}

static void must_hold(void) {
    const uint32_t silent_us = (memory.look - run.line_at_look) * SAMPLE_US;
    if (memory.presses != 0 && !memory.jumper) {
        broken("pressed without the jumper");
    }
    if (memory.presses != 0 && silent_us > PRESS_LAPSE_US + 2u * LOOKS_A_PASS * SAMPLE_US) {
        broken("still pressed after the lapse");
    }
    if (memory.presses > PRESS_ALL) {
        broken("presses that there are not");
    }
    if (trace_count() > TRACE_RECORDS) {
        broken("too many records");
    }
}

/* Takes what was sent since the latest look at it. */
static void read_sent(char *sent) {
    for (const char *at = sent; at < memory.sent; at++) {
        if (*at != '\n' && (*at < ' ' || *at > '~')) {
            broken("a character in an answer");
        }
        run.answers += *at == '\n';
    }
    if (run.answers > run.lines) {
        broken("more answers than lines");
    }
    memory.sent = sent;
}

static void passes(size_t count) {
    static char sent[2048];
    memory.sent = sent;
    for (size_t done = 0; done < count; done++) {
        memory.room = sizeof sent;
        pass();
        read_sent(sent);
        must_hold();
    }
}

/* A character is there, and passes go on until it was taken. */
static void character(char what) {
    run.waiting[0] = what == '\0' ? ' ' : what;
    memory.coming = run.waiting;
    for (size_t count = 0; *memory.coming != '\0'; count++) {
        if (count > PATIENCE) {
            broken("a character is never taken");
        }
        passes(1);
        look();
    }
    if (what == '\n') {
        run.lines++;
        run.line_at_look = memory.look;
    }
}

static void looks(size_t count) {
    for (size_t done = 0; done < count; done++) {
        look();
        if (memory.look % LOOKS_A_PASS == 0) {
            passes(1);
        }
    }
}

static void event(uint8_t byte) {
    const uint8_t low = byte & 7u;
    switch (byte & 0xF8u) {
    case 0x80u:
        looks((size_t)1u << low);
        break;
    case 0x88u:
        memory.lines = (uint16_t)(memory.lines ^ (1u << low));
        break;
    case 0x90u:
        if (run.leaps < MOST_LEAPS) {
            run.leaps++;
            looks(LOOKS_A_LEAP * (low + 1u));
        }
        break;
    default:
        character((char)(byte & 0x7Fu));
        break;
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    memset(&run, 0, sizeof run);
    bridge_power_up(size > 0 && (data[0] & 1u) != 0);
    press_release();
    trace_clear();
    while (looks_change(&(line_change){0, 0})) {
    }
    for (size_t at = 1; at < size; at++) {
        event(data[at]);
    }
    character('\n');
    passes(PATIENCE);
    const size_t answers = run.answers;
    for (const char *at = "*OPC?\n"; *at != '\0'; at++) {
        character(*at);
    }
    passes(PATIENCE);
    if (run.answers != answers + 1u) {
        broken("*OPC? is not answered any more");
    }
    return 0;
}
