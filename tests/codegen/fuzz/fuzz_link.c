/*
 * A fuzz target for the serial link: the portable sketch on a board made of memory (bridge.c), fed by libFuzzer.
 *
 * An input is a script: one byte says how the board starts, each further one is a character that comes in, or an
 * event around it. Whatever comes: no output moves without the bench link, no combination of outputs is switched that
 * no phase has, no value is taken over that was not sent or is out of its range, forced states lapse, the error queue
 * agrees with the status byte, answers are lines of plain text, and in the end the link answers again.
 *
 * Given on the compiler's command line: CONTACTS (all their bits), FULL_SCALE, READINGS, DIALS, DIAL_LOWS_US and
 * DIAL_HIGHS_US, ERROR_QUEUE. The port functions of bridge.c are renamed, so that they can be looked at here.
 */
#include <math.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "control.h"
#if DIALS > 0
#include "dials.h"
#endif
#include "forced.h"
#include "link_status.h"
#include "port.h"
#include "received.h"
#include "sequence.h"
#include "trace.h"

void bridge_power_up(bool bench_link, uint32_t now_us);
void bridge_reading(uint8_t reading, uint16_t counts, uint32_t now_us);
uint8_t bridge_pass(uint16_t contacts, uint32_t now_us);
uint8_t bridge_port_receive(char *character);

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);

#define MOST_PASSES 60000u
#define MOST_SENT 8192u
#define UNLIMITED SIZE_MAX
/* A link that is still at work after so many quiet passes does not come to an end. */
#define PATIENCE 20000u

static void fail(const char *what, ...) {
    va_list rest;
    va_start(rest, what);
    fputs("BROKEN: ", stderr);
    vfprintf(stderr, what, rest);
    fputc('\n', stderr);
    va_end(rest);
    abort();
}

/* ---- The sketch's memory, put back between inputs. Byte by byte, since the gaps between variables are poisoned. ---- */

/* From the linker; weak, since there may be no variable of a kind. */
#define FROM_LINKER extern volatile char __attribute__((weak))
FROM_LINKER __start_sketch_bss[], __stop_sketch_bss[], __start_sketch_data[], __stop_sketch_data[];

__attribute__((no_sanitize("address", "undefined"))) static void copy(volatile char *to, const volatile char *from,
                                                                      size_t size) {
    for (size_t at = 0; at < size; at++) {
        to[at] = from[at];
    }
}

/* Puts one section back to what it was when this was called first. */
static void fresh_section(volatile char *start, volatile char *stop, volatile char **kept) {
    const size_t size = (size_t)((uintptr_t)stop - (uintptr_t)start);
    if (*kept == NULL) {
        *kept = malloc(size + 1u);
        copy(*kept, start, size);
    }
    copy(start, *kept, size);
}

static void fresh_memory(void) {
    static volatile char *bss;
    static volatile char *data;
    fresh_section(__start_sketch_bss, __stop_sketch_bss, &bss);
    fresh_section(__start_sketch_data, __stop_sketch_data, &data);
}

/* ---- What happens, and what is known of it ---- */

static struct {
    const uint8_t *data;
    size_t size;
    bool mute; /* characters take their time, and do not come in */
    bool bench_link;
    uint32_t now_us;
    uint32_t pass_us;
    size_t room; /* for characters that go out */
    uint8_t pace; /* passes that a character takes */
    uint16_t contacts;
    size_t passes;
    size_t asked;        /* times in a row that the link looked for a character and found none */
    uint32_t line_at_us; /* when the end of a line was taken last */
    bool overdue;        /* the latest pass that had time for the link left states forced that lapse */
    char host[MOST_SENT]; /* all that the host sent; '?' for what was lost or mutilated on the way */
    size_t host_count;
    size_t line_ends; /* taken */
    size_t answers;   /* line ends sent */
    char last_sent;
} run;

static uint8_t outputs_of_muted[MOST_PASSES];

static uint8_t next_byte(void) {
    if (run.size == 0) {
        return 0;
    }
    run.size--;
    return *run.data++;
}

/* The bridge's own port, looked at on the way. */
uint8_t port_receive(char *character) {
    const uint8_t found = bridge_port_receive(character);
    run.asked = found == PORT_NOTHING ? run.asked + 1u : 0;
    if (found == PORT_CHARACTER && *character == '\n') {
        run.line_at_us = run.now_us;
        run.line_ends++;
    }
    return found;
}

bool port_can_send(void) {
    return run.room > 0;
}

void port_send(char character) {
    if (run.room == 0) {
        fail("a character was sent where there was no room");
    }
    run.room -= run.room != UNLIMITED;
    if (character != '\n' && (character < ' ' || character > '~')) {
        fail("character %d in an answer", character);
    }
    if (character == '\n') {
        run.answers++;
        if (run.answers > run.line_ends) {
            fail("more answers than lines");
        }
    }
    run.last_sent = character;
}

/* ---- Numbers that the host sent, as IEEE 488.2 writes them: NRf, and those of other bases ---- */

static size_t digits(const char *text, size_t at, size_t end) {
    while (at < end && text[at] >= '0' && text[at] <= '9') {
        at++;
    }
    return at;
}

static size_t blanks(const char *text, size_t at, size_t end) {
    while (at < end && (unsigned char)text[at] <= ' ' && text[at] != '\n') {
        at++;
    }
    return at;
}

/* Reads a hexadecimal, octal or binary number at `at`, if there is one; returns where it ends. */
static size_t radix_number(const char *text, size_t at, size_t end, double *value) {
    static const char letters[] = "HhQqBb";
    static const double bases[] = {16.0, 16.0, 8.0, 8.0, 2.0, 2.0};
    const char *letter = at + 2u < end && text[at] == '#' && text[at + 1u] != '\0' ? strchr(letters, text[at + 1u]) : NULL;
    if (letter == NULL) {
        return at;
    }
    const double base = bases[letter - letters];
    size_t stop = at + 2u;
    *value = 0.0;
    for (; stop < end; stop++) {
        static const char all[] = "0123456789ABCDEFabcdef";
        const char *found = text[stop] != '\0' ? strchr(all, text[stop]) : NULL;
        const long place = found == NULL ? 99 : found - all;
        const double units = (double)(place > 15 ? place - 6 : place);
        if (units >= base) {
            break;
        }
        *value = *value * base + units;
    }
    return stop > at + 2u ? stop : at;
}

/* Reads a number at `at`, if there is one; returns where it ends. */
static size_t number(const char *text, size_t at, size_t end, double *value) {
    if (at < end && text[at] == '#') {
        return radix_number(text, at, end, value);
    }
    /* The firmware reads as many digits as a line holds, leading zeros among them, so all of them count here. */
    static char plain[MOST_SENT + 2u];
    size_t stop = at;
    if (stop < end && (text[stop] == '+' || text[stop] == '-')) {
        stop++;
    }
    const size_t first = stop;
    stop = digits(text, stop, end);
    size_t count = stop - first;
    if (stop < end && text[stop] == '.') {
        const size_t after = digits(text, stop + 1u, end);
        count += after - stop - 1u;
        stop = after;
    }
    if (count == 0) {
        return at;
    }
    size_t length = stop - at;
    memcpy(plain, &text[at], length);
    size_t exponent = blanks(text, stop, end);
    if (exponent < end && (text[exponent] == 'e' || text[exponent] == 'E')) {
        exponent = blanks(text, exponent + 1u, end);
        const size_t begins = exponent;
        exponent += exponent < end && (text[exponent] == '+' || text[exponent] == '-');
        const size_t ends = digits(text, exponent, end);
        if (ends > exponent) {
            plain[length++] = 'e';
            memcpy(&plain[length], &text[begins], ends - begins);
            length += ends - begins;
            stop = ends;
        }
    }
    plain[length] = '\0';
    *value = strtod(plain, NULL);
    return stop;
}

static bool part_of_a_word(char character) {
    return (character >= '0' && character <= '9') || (character >= 'A' && character <= 'Z') ||
           (character >= 'a' && character <= 'z') || character == '.' || character == '?';
}

/* Tells whether the host ever sent `wanted`, as a number of its own. */
static bool was_sent(uint32_t wanted, uint32_t ignored_bits) {
    size_t at = 0;
    while (at < run.host_count) {
        double value = 0;
        const bool begins = at == 0 || !part_of_a_word(run.host[at - 1u]);
        const size_t stop = begins ? number(run.host, at, run.host_count, &value) : at;
        if (stop > at && value > -0.6 && value < 70000.0 &&
            (((uint32_t)floor(fmax(value, 0.0) + 0.5) & ~ignored_bits) == wanted ||
             ((uint32_t)ceil(fmax(value - 0.5, 0.0)) & ~ignored_bits) == wanted)) {
            return true;
        }
        at = stop > at ? stop : at + 1u;
    }
    return false;
}

/* ---- What must hold after each pass ---- */

static void outputs_are_those_of_a_phase(uint8_t outputs) {
    const uint8_t without_gas = outputs & (uint8_t)~OUTPUT_GAS;
    const bool gas = (outputs & OUTPUT_GAS) != 0;
    const bool known = without_gas == 0 || (without_gas == OUTPUT_WIRE && !gas) ||
                       (gas && (without_gas == OUTPUT_CONTACTOR || without_gas == (OUTPUT_WIRE | OUTPUT_CONTACTOR)));
    if (!known) {
        fail("outputs %u", outputs);
    }
}

static struct {
    bool forced;
    bool contacts_forced;
    uint16_t contacts;
    uint16_t counts[READINGS + 1];
    bool held[READINGS + 1];
    uint8_t event_enable;
    uint8_t service_enable;
    uint16_t operation_enable;
    uint16_t questionable_enable;
    uint8_t trace_count;
    uint16_t trace_lost;
} before;

static void note_before(void) {
    before.forced = forced_any();
    before.contacts_forced = forced_has_contacts();
    before.contacts = forced_contacts();
#if READINGS > 0
    for (uint8_t reading = 0; reading < READINGS; reading++) {
        before.held[reading] = forced_holds_reading(reading);
        before.counts[reading] = control_counts(reading);
    }
#endif
    before.event_enable = status_event_enable();
    before.service_enable = status_service_enable();
    before.operation_enable = status_enable(ENABLE_OPERATION);
    before.questionable_enable = status_enable(ENABLE_QUESTIONABLE);
    before.trace_count = trace_count();
    before.trace_lost = trace_lost();
}

/* STATus:PRESet sets these to 0; the top bit of a register of 16 is never used. */
static void an_enable_was_sent(uint8_t which, uint16_t old) {
    const uint16_t enable = status_enable(which);
    if (enable != old && enable != 0 && !was_sent(enable, 0) && !was_sent(enable, 32768u)) {
        fail("enable register %u is %u, which nobody sent", which, enable);
    }
}

static void what_was_taken_over_was_sent(void) {
    if (forced_any() && !run.bench_link) {
        fail("forced without the bench link");
    }
    if (forced_has_contacts() && (!before.contacts_forced || forced_contacts() != before.contacts)) {
        if (forced_contacts() > CONTACTS || !was_sent(forced_contacts(), 0)) {
            fail("contacts %u forced, which nobody sent", forced_contacts());
        }
    }
#if READINGS > 0
    for (uint8_t reading = 0; reading < READINGS; reading++) {
        const uint16_t counts = control_counts(reading);
        if (counts > FULL_SCALE) {
            fail("reading %u is %u", reading, counts);
        }
        if (forced_holds_reading(reading) && (!before.held[reading] || counts != before.counts[reading]) &&
            !was_sent(counts, 0)) {
            fail("reading %u forced to %u, which nobody sent", reading, counts);
        }
    }
#endif
    if (status_event_enable() != before.event_enable && !was_sent(status_event_enable(), 0)) {
        fail("event enable %u, which nobody sent", status_event_enable());
    }
    if (status_service_enable() != before.service_enable && !was_sent(status_service_enable(), 64u)) {
        fail("service enable %u, which nobody sent", status_service_enable());
    }
    an_enable_was_sent(ENABLE_OPERATION, before.operation_enable);
    an_enable_was_sent(ENABLE_QUESTIONABLE, before.questionable_enable);
}

#if DIALS > 0
static void times_are_on_their_dials(void) {
    static const uint32_t lows_us[] = DIAL_LOWS_US;
    static const uint32_t highs_us[] = DIAL_HIGHS_US;
    for (uint8_t dial = 0; dial < DIALS; dial++) {
        if (dials_time_us(dial) < lows_us[dial] || dials_time_us(dial) > highs_us[dial]) {
            fail("dial %u gives %u us", dial, dials_time_us(dial));
        }
    }
}
#else
static void times_are_on_their_dials(void) {
}
#endif

static void forced_states_lapse(void) {
    /* A pass with an edge has no time for the link. */
    const bool busy = trace_count() > before.trace_count || trace_lost() > before.trace_lost;
    if (busy) {
        return;
    }
    /* A command may be carried out long after its line where passes come seldom: it forces up to the next pass. */
    const bool overdue = forced_any() && before.forced && run.now_us - run.line_at_us >= LAPSE_US;
    if (overdue && run.overdue) {
        fail("still forced %u us after the last line", run.now_us - run.line_at_us);
    }
    run.overdue = overdue;
}

/* Runs one pass and returns the outputs. */
static uint8_t one_pass(void) {
    note_before();
    const uint8_t outputs = bridge_pass(run.contacts, run.now_us);
    outputs_are_those_of_a_phase(outputs);
    what_was_taken_over_was_sent();
    times_are_on_their_dials();
    forced_states_lapse();
    if (trace_count() > TRACE_RECORDS) {
        fail("%u records in the trace", trace_count());
    }
    run.now_us += run.pass_us;
    return outputs;
}

static void pass(void) {
    if (run.passes >= MOST_PASSES) {
        return;
    }
    const uint8_t outputs = one_pass();
    if (run.mute) {
        outputs_of_muted[run.passes] = outputs;
    } else if (!run.bench_link && outputs != outputs_of_muted[run.passes]) {
        fail("pass %zu: outputs %u, without a host %u, and no bench link", run.passes, outputs,
             outputs_of_muted[run.passes]);
    }
    run.passes++;
}

static void passes(size_t count) {
    for (size_t done = 0; done < count; done++) {
        pass();
    }
}

/* ---- The script ---- */

static void host_sent(char character) {
    if (run.host_count < MOST_SENT) {
        run.host[run.host_count++] = character;
    }
}

static void character(char character) {
    host_sent(character == '\0' || character == '\1' ? ' ' : character);
    if (!run.mute) {
        received_character(character);
    }
    passes(run.pace);
}

static void mutilated(uint8_t error) {
    host_sent('?');
    if (!run.mute) {
        received_error(error);
    }
    passes(run.pace);
}

static void leap(uint8_t which) {
    static const uint32_t leaps_us[] = {1000u,         10000u,        50000u,       100000u,      500000u,     1000000u,
                                        2000000u,      LAPSE_US - 1u, LAPSE_US,     LAPSE_US + 1, 10000000u,   60000000u,
                                        2000000000u,   2147483647u,   2147483648u,  4294967295u};
    run.now_us += leaps_us[which];
    pass();
}

static void event(uint8_t byte) {
    static const uint32_t paces_us[] = {20u, 50u, 80u, 100u, 500u, 1000u, 5000u, 20000u};
    const uint8_t low = byte & 7u;
    uint16_t counts;
    switch (byte & 0xF8u) {
    case 0x80u:
        passes((size_t)1u << low);
        break;
    case 0x88u:
        run.pace = low;
        break;
    case 0x90u:
        run.pass_us = paces_us[low];
        break;
    case 0x98u:
    case 0xA0u:
        leap((uint8_t)(byte - 0x98u));
        break;
    case 0xA8u:
        run.contacts = (uint16_t)(next_byte() | next_byte() << 8);
        break;
    case 0xB0u:
        counts = (uint16_t)((next_byte() | next_byte() << 8) & FULL_SCALE);
        if (low < READINGS) {
            bridge_reading(low, counts, run.now_us);
        }
        break;
    case 0xB8u:
        run.room = low == 7u ? UNLIMITED : low;
        break;
    case 0xC0u:
        mutilated(low < 4u ? PORT_OVERRUN : PORT_FRAMING);
        break;
    case 0xC8u:
        character((char)next_byte());
        break;
    default:
        character((char)byte);
        break;
    }
}

static void play(const uint8_t *data, size_t size, bool mute) {
    memset(&run, 0, sizeof run);
    run.data = data;
    run.size = size;
    run.mute = mute;
    run.pass_us = 50u;
    run.pace = 2u;
    run.room = UNLIMITED;
    const uint8_t start = next_byte();
    run.bench_link = (start & 1u) != 0;
    run.now_us = (start & 2u) != 0 ? 4294000000u : 0;
    fresh_memory();
    bridge_power_up(run.bench_link, run.now_us);
    while (run.size > 0 && run.passes < MOST_PASSES) {
        const uint8_t byte = next_byte();
        if (byte < 0x80u) {
            character((char)byte);
        } else {
            event(byte);
        }
    }
}

/* ---- Afterwards ---- */

/* Runs passes until the link has nothing left to do. */
static void until_idle(void) {
    run.asked = 0;
    for (size_t count = 0; run.asked < 3u; count++) {
        if (count > PATIENCE) {
            fail("the link does not come to an end");
        }
        one_pass();
    }
}

static void say(const char *text) {
    until_idle();
    for (; *text != '\0'; text++) {
        host_sent(*text);
        received_character(*text);
    }
    until_idle();
}

static void the_link_still_answers(void) {
    run.room = UNLIMITED;
    run.pass_us = 50u;
    say("\n");
    const size_t answers = run.answers;
    say("*OPC?\n");
    if (run.answers != answers + 1u || run.last_sent != '\n') {
        fail("*OPC? is not answered any more");
    }
}

static void the_error_queue_agrees_with_the_status_byte(void) {
    for (unsigned taken = 0;; taken++) {
        const bool tells = (status_byte() & 4u) != 0;
        const char *error = status_next_error();
        const bool none = strcmp(error, "0,\"No error\"") == 0;
        if (tells == none) {
            fail("status byte %u before error %s", status_byte(), error);
        }
        if (none) {
            return;
        }
        int code;
        if (taken >= ERROR_QUEUE || sscanf(error, "%d,\"", &code) != 1 || code >= 0) {
            fail("error %u is %s", taken, error);
        }
    }
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size) {
    const bool bench_link = size > 0 && (data[0] & 1u) != 0;
    if (!bench_link) {
        play(data, size, true);
    }
    play(data, size, false);
    the_link_still_answers();
    the_error_queue_agrees_with_the_status_byte();
    return 0;
}
