/*
 * Runs a program for an AVR in a simulator, moves its inputs on cue, and prints what its outputs do.
 *
 *   runner PROGRAM.elf MCU CLOCK_HZ UART          cues on standard input, events on standard output
 *   runner PROGRAM.elf MCU CLOCK_HZ UART --port   as a serial port in real time; prints its name first
 *   runner IMAGE MCU CLOCK_HZ UART --board ADDRESS   as a board with a bootloader (its address in hex) and the flash in
 *                                  a file; port.h says what it is asked
 *
 *   runner pair PROGRAM.elf MCU CLOCK_HZ UART PROGRAM.elf MCU CLOCK_HZ UART
 *                                  two of them beside each other; pair.h says what they are asked
 *
 * Cues, one a line, in order of their cycles: `CYCLE` and one of those that cues.h lists, or
 *   CYCLE fork                     what follows, up to `end`, runs in a copy of the machine as it stands
 *   CYCLE end                      run up to here; end the copy, or the run
 *   CYCLE serve                    the last cue of a board that serves its port from here on
 *
 * Events, one a line: `CYCLE pin PORT BIT 0|1|z` when a watched pin is driven or let go, `CYCLE uart HEX`,
 * `CYCLE reset`, `CYCLE passes COUNT LONGEST_CYCLES TOTAL_CYCLES`, `CYCLE stack BYTES`, `CYCLE end`. All output pins are
 * watched.
 */
#include "cues.h"
#include "machine.h"
#include "pair.h"
#include "port.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

static struct chip chip;
static bool serves; /* its port, after the last cue */

static void tell_pin(struct chip *of, char port, int bit, char level) {
    printf("%llu pin %c %d %c\n", (unsigned long long)of->avr->cycle, port, bit, level);
}

static void tell_byte(struct chip *of, uint8_t byte) {
    printf("%llu uart %02x\n", (unsigned long long)of->avr->cycle, byte);
}

static void tell_reset(struct chip *of) {
    printf("%llu reset\n", (unsigned long long)of->avr->cycle);
}

static const struct witness printed = {tell_pin, tell_byte, tell_reset};

static void tell_passes(void) {
    if (chip.passes.timed) {
        const unsigned long long cycle = chip.avr->cycle;
        printf("%llu passes %llu %llu %llu\n", cycle, chip.passes.count, chip.passes.longest, chip.passes.total);
        printf("%llu stack %u\n", cycle, chip.passes.stack);
    }
}

static void run_to(avr_cycle_count_t cycle) {
    if (!run_until(&chip, cycle)) {
        fail("the program crashed");
    }
}

/* Carries out one cue; returns false at the end of the run. */
static bool carry_out(const char *line) {
    unsigned long long cycle;
    char what[8], rest[8192] = "";
    if (sscanf(line, "%llu %7s %8191[^\n]", &cycle, what, rest) < 2) {
        fail("a line that is no cue");
    }
    run_to(cycle);
    if (strcmp(what, "serve") == 0) {
        serves = true;
        return false;
    }
    if (strcmp(what, "end") == 0) {
        tell_passes();
        printf("%llu end\n", (unsigned long long)chip.avr->cycle);
        fflush(stdout);
        return false;
    }
    if (!obey_cue(&chip, what, rest)) {
        fail("an unknown cue");
    }
    return true;
}

static void play_cues(void) {
    static char line[8400];
    while (fgets(line, sizeof line, stdin) != NULL) {
        unsigned long long cycle;
        char what[8];
        if (sscanf(line, "%llu %7s", &cycle, what) == 2 && strcmp(what, "fork") == 0) {
            run_to(cycle);
            fflush(stdout);
            const pid_t copy = fork();
            if (copy < 0) {
                fail("cannot fork");
            }
            if (copy > 0) {
                int status;
                waitpid(copy, &status, 0);
                if (!WIFEXITED(status) || WEXITSTATUS(status) != 0) {
                    fail("a copy failed");
                }
                /* The copy has its own place in the cues: they are read unbuffered, so both stand at the same one. */
                continue;
            }
            while (fgets(line, sizeof line, stdin) != NULL && carry_out(line)) {
            }
            _exit(0);
        }
        if (!carry_out(line)) {
            return;
        }
    }
}

int main(int argc, char *argv[]) {
    setvbuf(stdin, NULL, _IONBF, 0);
    static char buffer[1 << 16];
    setvbuf(stdout, buffer, _IOFBF, sizeof buffer);
    if (argc == 2 + PAIR_ARGUMENTS && strcmp(argv[1], "pair") == 0) {
        serve_pair(&argv[2]);
        return 0;
    }
    if (argc < 5) {
        fail("usage: runner PROGRAM.elf MCU CLOCK_HZ UART [--port | --board ADDRESS], or runner pair and twice the four");
    }
    machine_make(&chip, argv[2], (uint32_t)strtoul(argv[3], NULL, 10), argv[4][0], &printed);
    const char *mode = argc > 5 ? argv[5] : "";
    const bool board = strcmp(mode, "--board") == 0 && argc > 6;
    if (board) {
        load_image(&chip, argv[1], (uint32_t)strtoul(argv[6], NULL, 16));
    } else {
        machine_load(&chip, argv[1]);
    }
    machine_connect(&chip);
    play_cues();
    if (board && serves) {
        serve_board(&chip);
    } else if (strcmp(mode, "--port") == 0) {
        serve_port(&chip);
    }
    return 0;
}
