/*
 * Runs a program for an AVR in a simulator, moves its inputs on cue, and prints what its outputs do.
 *
 *   runner PROGRAM.elf MCU CLOCK_HZ UART          cues on standard input, events on standard output
 *   runner PROGRAM.elf MCU CLOCK_HZ UART --port   as a serial port in real time; prints its name first
 *   runner IMAGE MCU CLOCK_HZ UART --board ADDRESS   as a board with a bootloader (its address in hex) and the flash in
 *                                  a file; port.h says what it is asked
 *
 * Cues, one a line, in order of their cycles:
 *   CYCLE pin PORT BIT LEVEL       an input pin, 0 or 1
 *   CYCLE adc CHANNEL MILLIVOLTS   voltage at an analog channel
 *   CYCLE uart HEX                 bytes that come in, one after the other at the port's pace
 *   CYCLE mangled HEX              the same, each with a framing error
 *   CYCLE ram ADDRESS HEX          bytes put into data memory (address in hex)
 *   CYCLE flip ADDRESS MASK        bits of a register turn over, as if disturbed (both in hex, the address that of data
 *                                  memory)
 *   CYCLE stuck ADDRESS VALUE      a register takes a value and keeps it: what the program writes there is lost
 *   CYCLE free ADDRESS             a stuck register takes what is written again
 *   CYCLE timer NUMBER HALVINGS    a timer's clock is halved that many times, beyond what its registers say
 *   CYCLE clock HZ                 the chip's own clock, whose cycles are counted here, runs at that frequency
 *   CYCLE reset [power|brown-out]  a reset by the reset pin, or by the supply; without power the memory is lost
 *   CYCLE passes [ADDRESS]         from here on, time the passes: from one kick of the watchdog, or one OUT to that
 *                                  register (hex, as above), to the next; and look how far down the stack goes
 *   CYCLE fork                     what follows, up to `end`, runs in a copy of the machine as it stands
 *   CYCLE end                      run up to here; end the copy, or the run
 *   CYCLE serve                    the last cue of a board that serves its port from here on
 *
 * Events, one a line: `CYCLE pin PORT BIT 0|1|z` when a watched pin is driven or let go, `CYCLE uart HEX`,
 * `CYCLE reset`, `CYCLE passes COUNT LONGEST_CYCLES TOTAL_CYCLES`, `CYCLE stack BYTES`, `CYCLE end`. All output pins are
 * watched.
 */
#include "machine.h"
#include "port.h"

#include <simavr/avr_adc.h>
#include <simavr/avr_timer.h>
#include <simavr/avr_uart.h>
#include <simavr/sim_elf.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <unistd.h>

static struct stuck {
    avr_io_write_t write; /* what a write there would do */
    void *param;
    bool is;
} stuck[MAX_IOs];

static bool serves; /* its port, after the last cue */

static void run_to(avr_cycle_count_t cycle) {
    if (!run_until(cycle)) {
        fail("the program crashed");
    }
}

/* ---- What disturbs a chip ---- */

static void lose_write(struct avr_t *machine, avr_io_addr_t address, uint8_t value, void *unused) {
    (void)machine, (void)address, (void)value, (void)unused;
}

static void stick_register(unsigned address, uint8_t value) {
    const avr_io_addr_t index = AVR_DATA_TO_IO(address);
    put_register(address, value);
    if (!stuck[index].is) {
        stuck[index] = (struct stuck){avr->io[index].w.c, avr->io[index].w.param, true};
        avr->io[index].w.c = lose_write;
    }
}

static void free_register(unsigned address) {
    const avr_io_addr_t index = AVR_DATA_TO_IO(address);
    if (stuck[index].is) {
        avr->io[index].w.c = stuck[index].write;
        avr->io[index].w.param = stuck[index].param;
        stuck[index].is = false;
    }
}

static void slow_timer(char name, int halvings) {
    for (avr_io_t *io = avr->io_port; io != NULL; io = io->next) {
        avr_timer_t *timer = (avr_timer_t *)io;
        if (strcmp(io->kind, "timer") == 0 && timer->name == name) {
            for (unsigned choice = 1; choice < sizeof timer->cs_div; choice++) {
                timer->cs_div[choice] = (uint8_t)(timer->cs_div[choice] + halvings);
            }
            const unsigned control = timer->cs[0].reg;
            const uint8_t chosen = avr->data[control];
            put_register(control, (uint8_t)(chosen & ~7)); /* stopped, and started anew: it looks at its divider then */
            put_register(control, chosen);
            return;
        }
    }
    fail("no such timer");
}

/* Carries out one cue; returns false at the end of the run. */
static bool carry_out(const char *line) {
    unsigned long long cycle;
    char what[8], rest[8192] = "";
    if (sscanf(line, "%llu %7s %8191[^\n]", &cycle, what, rest) < 2) {
        fail("a line that is no cue");
    }
    run_to(cycle);
    char port;
    int first, second, used;
    unsigned byte, address;
    const uint16_t wrong = strcmp(what, "mangled") == 0 ? UART_INPUT_FE : 0;
    if (strcmp(what, "pin") == 0 && sscanf(rest, "%c %d %d", &port, &first, &second) == 3) {
        set_pin(port, first, second);
    } else if (strcmp(what, "adc") == 0 && sscanf(rest, "%d %d", &first, &second) == 2) {
        avr_raise_irq(avr_io_getirq(avr, AVR_IOCTL_ADC_GETIRQ, first), (uint32_t)second);
    } else if (strcmp(what, "uart") == 0 || wrong != 0) {
        for (const char *at = rest; sscanf(at, "%2x", &byte) == 1; at += 2) {
            queue_byte((uint16_t)(byte | wrong));
        }
    } else if (strcmp(what, "ram") == 0 && sscanf(rest, "%x %n", &address, &used) == 1) {
        for (const char *at = rest + used; sscanf(at, "%2x", &byte) == 1; at += 2) {
            avr->data[address++] = (uint8_t)byte;
        }
    } else if (strcmp(what, "reset") == 0) {
        reset_for(rest);
    } else if (strcmp(what, "flip") == 0 && sscanf(rest, "%x %x", &address, &byte) == 2 && address <= avr->ioend) {
        put_register(address, (uint8_t)(avr->data[address] ^ byte));
    } else if (strcmp(what, "stuck") == 0 && sscanf(rest, "%x %x", &address, &byte) == 2) {
        stick_register(address, (uint8_t)byte);
    } else if (strcmp(what, "free") == 0 && sscanf(rest, "%x", &address) == 1) {
        free_register(address);
    } else if (strcmp(what, "clock") == 0 && sscanf(rest, "%u", &byte) == 1) {
        avr->frequency = byte;
    } else if (strcmp(what, "timer") == 0 && sscanf(rest, "%c %d", &port, &first) == 2) {
        slow_timer(port, first);
    } else if (strcmp(what, "passes") == 0) {
        passes_begin(sscanf(rest, "%x", &address) == 1 ? AVR_DATA_TO_IO(address) : 0);
    } else if (strcmp(what, "serve") == 0) {
        serves = true;
        return false;
    } else if (strcmp(what, "end") == 0) {
        passes_print();
        printf("%llu end\n", (unsigned long long)avr->cycle);
        fflush(stdout);
        return false;
    } else {
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

static void load_program(const char *path) {
    elf_firmware_t firmware = {0};
    if (elf_read_firmware(path, &firmware) != 0) {
        fail("cannot read the program");
    }
    avr_load_firmware(avr, &firmware);
}

int main(int argc, char *argv[]) {
    if (argc < 5) {
        fail("usage: runner PROGRAM.elf MCU CLOCK_HZ UART [--port | --board ADDRESS]");
    }
    machine_make(argv[2], (uint32_t)strtoul(argv[3], NULL, 10), argv[4][0]);
    const char *mode = argc > 5 ? argv[5] : "";
    const bool board = strcmp(mode, "--board") == 0 && argc > 6;
    if (board) {
        load_image(argv[1], (uint32_t)strtoul(argv[6], NULL, 16));
    } else {
        load_program(argv[1]);
    }
    machine_connect();
    setvbuf(stdin, NULL, _IONBF, 0);
    static char buffer[1 << 16];
    setvbuf(stdout, buffer, _IOFBF, sizeof buffer);
    play_cues();
    if (board && serves) {
        serve_board();
    } else if (strcmp(mode, "--port") == 0) {
        serve_port();
    }
    return 0;
}
