#include "pair.h"

#include "cues.h"
#include "machine.h"
#include "port.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

#define CHIPS 2
#define NS_A_S 1000000000u
#define NS_A_US 1000u
#define SLICE_NS ((uint64_t)SLICE_US * NS_A_US)
#define MOST_BEHIND_US 20000 /* of the wall clock; what is lost beyond is not made up for (choice) */

static struct chip chips[CHIPS];
static uint8_t watched[CHIPS][sizeof CHIP_PORTS - 1]; /* pins, a bit each */
static uint64_t ahead_ns = 4 * NS_A_US;
static uint64_t ends_ns;      /* of the present run */
static bool ended;            /* before its time, by what one of them did */
static bool behind_ports;     /* bytes come and go there */
static uint64_t next_look_ns; /* at the ports */
static long long start_us;    /* on the wall clock, of true time as it would be without ever falling behind */

/* ---- True time, and the cycles of a chip ---- */

static uint64_t instant(const struct chip *chip) {
    return (uint64_t)((unsigned __int128)chip->avr->cycle * NS_A_S / chip->avr->frequency);
}

/* Returns the first cycle that is not before an instant. */
static avr_cycle_count_t cycle_at(const struct chip *chip, uint64_t ns) {
    return (avr_cycle_count_t)(((unsigned __int128)ns * chip->avr->frequency + NS_A_S - 1) / NS_A_S);
}

static bool reached(const struct chip *chip, uint64_t ns) {
    return chip->avr->cycle >= cycle_at(chip, ns);
}

/* ---- What they tell ---- */

static int number(const struct chip *chip) {
    return (int)(chip - chips);
}

static void end_run_here(struct chip *chip) {
    const uint64_t now_ns = instant(chip);
    ends_ns = now_ns < ends_ns ? now_ns : ends_ns;
    ended = true;
    halt(chip);
}

static void tell_pin(struct chip *chip, char port, int bit, char level) {
    printf("%" PRIu64 " %d pin %c %d %c\n", instant(chip), number(chip), port, bit, level);
    if (watched[number(chip)][strchr(CHIP_PORTS, port) - CHIP_PORTS] & (1 << bit)) {
        end_run_here(chip);
    }
}

static void tell_byte(struct chip *chip, uint8_t byte) {
    printf("%" PRIu64 " %d uart %02x\n", instant(chip), number(chip), byte);
    if (byte == '\n') {
        end_run_here(chip);
    }
}

static void tell_reset(struct chip *chip) {
    printf("%" PRIu64 " %d reset\n", instant(chip), number(chip));
}

static const struct witness printed = {tell_pin, tell_byte, tell_reset};

/* ---- Both run ---- */

/* Returns whichever has not come to the end of the run, the one that is behind before the other; NULL: none. */
static struct chip *next_to_run(void) {
    struct chip *next = NULL;
    for (int i = 0; i < CHIPS; i++) {
        if (!reached(&chips[i], ends_ns) && (next == NULL || instant(&chips[i]) < instant(next))) {
            next = &chips[i];
        }
    }
    return next;
}

/* The one behind overtakes the other, by what it may be ahead: nothing that the other does reaches it any sooner. Returns
 * false where that ended before its time. */
static bool run_both(uint64_t until_ns) {
    ends_ns = until_ns;
    ended = false;
    for (struct chip *chip; (chip = next_to_run()) != NULL;) {
        const struct chip *other = &chips[1 - number(chip)];
        const uint64_t most_ns = instant(other) + ahead_ns;
        const bool alone = reached(other, ends_ns);
        if (!run_until(chip, cycle_at(chip, alone || ends_ns < most_ns ? ends_ns : most_ns))) {
            printf("%" PRIu64 " %d crashed\n", instant(chip), number(chip));
            end_run_here(chip);
            break;
        }
    }
    return !ended;
}

static void keep_pace(void) {
    const long long ahead_us = (long long)(next_look_ns / NS_A_US) - (wall_us() - start_us);
    if (ahead_us > 0) {
        usleep((useconds_t)ahead_us);
    } else if (ahead_us < -MOST_BEHIND_US) {
        start_us -= ahead_us + MOST_BEHIND_US;
    }
}

static void look_at_ports(void) {
    keep_pace();
    for (int i = 0; i < CHIPS; i++) {
        take_from_port(&chips[i]);
    }
    next_look_ns += SLICE_NS;
}

static void run(uint64_t until_ns) {
    bool goes_on = true;
    while (goes_on && behind_ports && next_look_ns < until_ns) {
        goes_on = run_both(next_look_ns);
        if (goes_on) {
            look_at_ports();
        }
    }
    if (goes_on) {
        run_both(until_ns);
    }
    printf("%" PRIu64 " stands\n", ends_ns);
    fflush(stdout);
}

static void open_ports(void) {
    for (int i = 0; i < CHIPS; i++) {
        (void)open_ends(&chips[i].port_file); /* the far end stays open here, so that clients may come and go */
    }
    behind_ports = true;
    next_look_ns = instant(&chips[0]) > instant(&chips[1]) ? instant(&chips[0]) : instant(&chips[1]);
    start_us = wall_us() - (long long)(next_look_ns / NS_A_US);
}

/* ---- Orders ---- */

static void watch(int chip, const char *rest) {
    char port = '\0';
    int bit = -1;
    const char *found = sscanf(rest, "%c %d", &port, &bit) == 2 && port != '\0' ? strchr(CHIP_PORTS, port) : NULL;
    if (found == NULL || bit < 0 || bit > 7) {
        fail("no such pin");
    }
    watched[chip][found - CHIP_PORTS] |= (uint8_t)(1 << bit);
}

/* Returns whether the line was an order to a chip. */
static bool obey_of_chip(const char *line) {
    int chip;
    char what[8], rest[8192] = "";
    if (sscanf(line, "%d %7s %8191[^\n]", &chip, what, rest) < 2 || chip < 0 || chip >= CHIPS) {
        return false;
    }
    if (strcmp(what, "watch") == 0) {
        watch(chip, rest);
        return true;
    }
    return strcmp(what, "clock") != 0 && obey_cue(&chips[chip], what, rest);
}

/* Returns false at the end of it all. */
static bool obey(const char *line) {
    uint64_t ns;
    if (sscanf(line, "run %" SCNu64, &ns) == 1) {
        run(ns);
    } else if (sscanf(line, "ahead %" SCNu64, &ns) == 1 && ns >= NS_A_US) {
        ahead_ns = ns;
    } else if (strcmp(line, "ports\n") == 0) {
        open_ports();
    } else if (strcmp(line, "end\n") == 0) {
        return false;
    } else if (!obey_of_chip(line)) {
        fail("an unknown order");
    }
    return true;
}

/* Goes on as the copy; whoever was copied waits until that has ended. */
static void go_on_as_copy(void) {
    fflush(stdout);
    const pid_t copy = behind_ports ? -1 : fork();
    if (copy < 0) {
        fail("cannot be copied");
    }
    int status = 0;
    if (copy > 0 && (waitpid(copy, &status, 0) != copy || !WIFEXITED(status) || WEXITSTATUS(status) != 0)) {
        fail("a copy failed");
    }
}

void serve_pair(char *arguments[]) {
    for (int i = 0; i < CHIPS; i++, arguments += PAIR_ARGUMENTS / CHIPS) {
        const uint32_t clock_hz = (uint32_t)strtoul(arguments[2], NULL, 10);
        machine_make(&chips[i], arguments[1], clock_hz, arguments[3][0], &printed);
        machine_load(&chips[i], arguments[0]);
        machine_connect(&chips[i]);
    }
    static char line[8400];
    while (fgets(line, sizeof line, stdin) != NULL) {
        /* A copy has its own place in the orders: they are read unbuffered, so both stand at the same one. */
        if (strcmp(line, "fork\n") == 0) {
            go_on_as_copy();
        } else if (!obey(line)) {
            return;
        }
    }
}
