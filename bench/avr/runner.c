/*
 * Runs a program for an AVR in a simulator, moves its inputs on cue, and prints what its outputs do.
 *
 *   runner PROGRAM.elf MCU CLOCK_HZ UART          cues on standard input, events on standard output
 *   runner PROGRAM.elf MCU CLOCK_HZ UART --port   as a serial port in real time; prints its name first
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
 *
 * Events, one a line: `CYCLE pin PORT BIT 0|1|z` when a watched pin is driven or let go, `CYCLE uart HEX`,
 * `CYCLE reset`, `CYCLE passes COUNT LONGEST_CYCLES TOTAL_CYCLES`, `CYCLE stack BYTES`, `CYCLE end`. All output pins are
 * watched.
 */
#define _GNU_SOURCE
#include <errno.h>
#include <fcntl.h>
#include <simavr/avr_adc.h>
#include <simavr/avr_extint.h>
#include <simavr/avr_ioport.h>
#include <simavr/avr_timer.h>
#include <simavr/avr_uart.h>
#include <simavr/sim_avr.h>
#include <simavr/sim_elf.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/wait.h>
#include <termios.h>
#include <time.h>
#include <unistd.h>

#define PORTS "ABCDEFGHJKL"
#define MCUSR 0x54 /* in all of this family */
#define MCUSR_POWER (1 << 0)
#define MCUSR_PIN (1 << 1)
#define MCUSR_BROWN_OUT (1 << 2)
#define BITS_A_CHARACTER 10
#define BAUD 115200
#define SUPPLY_MV 5000
#define WAITING 4096 /* a power of two */
#define SLICE_US 1000

static avr_t *avr;
static char uart;
static int port_file = -1;
static struct pins {
    uint8_t driven, high, shown_driven, shown_high; /* by the program; as last printed */
    uint8_t external;                               /* levels from outside */
    bool there;
} pins[sizeof PORTS];
static uint16_t waiting[WAITING]; /* with what is wrong with them, as the simulator takes it */
static unsigned waiting_head, waiting_tail;
static avr_cycle_count_t next_character;
static struct stuck {
    avr_io_write_t write; /* what a write there would do */
    void *param;
    bool is;
} stuck[MAX_IOs];
static struct {
    bool timed;
    unsigned mark; /* I/O address of the register that begins a pass; 0: the watchdog's kick does */
    unsigned long long count, longest, total;
    avr_cycle_count_t since;
    unsigned stack; /* bytes of it that were in use at the most */
} passes;

static void fail(const char *what) {
    fprintf(stderr, "runner: %s\n", what);
    exit(2);
}

static void show_pins(unsigned index) {
    struct pins *p = &pins[index];
    for (int bit = 0; bit < 8; bit++) {
        const uint8_t mask = (uint8_t)(1 << bit);
        const bool driven = p->driven & mask, high = p->high & mask;
        if (driven != !!(p->shown_driven & mask) || (driven && high != !!(p->shown_high & mask))) {
            printf("%llu pin %c %d %c\n", (unsigned long long)avr->cycle, PORTS[index], bit, driven ? '0' + high : 'z');
        }
    }
    p->shown_driven = p->driven;
    p->shown_high = p->high;
}

static void on_direction(struct avr_irq_t *irq, uint32_t value, void *index) {
    (void)irq;
    pins[(uintptr_t)index].driven = (uint8_t)value;
    show_pins((unsigned)(uintptr_t)index);
}

static void on_port(struct avr_irq_t *irq, uint32_t value, void *index) {
    (void)irq;
    pins[(uintptr_t)index].high = (uint8_t)value;
    show_pins((unsigned)(uintptr_t)index);
}

static void on_sent(struct avr_irq_t *irq, uint32_t value, void *unused) {
    (void)irq, (void)unused;
    const uint8_t byte = (uint8_t)value;
    if (port_file >= 0) {
        (void)!write(port_file, &byte, 1); /* nobody there: lost, as on a wire */
    } else {
        printf("%llu uart %02x\n", (unsigned long long)avr->cycle, byte);
    }
}

/* This simulator forgets that the transmitter is free when a program switches the port off and on again, as the boards'
 * core does at start: say so once it is on. */
static avr_cycle_count_t free_transmitter(struct avr_t *machine, avr_cycle_count_t when, void *unused) {
    (void)unused;
    const unsigned status = 0xC0u + 8u * (unsigned)(uart - '0'); /* UCSRnA; UCSRnB is the next */
    if ((machine->data[status + 1] & (1 << 3)) == 0) {           /* TXEN */
        return when + machine->frequency / 1000;
    }
    machine->data[status] |= 1 << 5; /* UDRE */
    return 0;
}

/* While an external interrupt's pin is low, this simulator polls it in every cycle, used or not, and every reset lets it
 * do so again: the program uses none, and the trigger's pin is one of them. */
static avr_cycle_count_t poll_no_interrupts(struct avr_t *machine, avr_cycle_count_t when, void *unused) {
    (void)when, (void)unused;
    for (uint8_t number = 0; number < EXTINT_COUNT; number++) {
        avr_extint_set_strict_lvl_trig(machine, number, 0);
    }
    return 0;
}

/* A reset clears the registers of a port; this simulator then takes what is as it was before the reset for known and
 * tells nobody: say it all anew. */
static void reset_port(unsigned index) {
    avr_irq_t *port = avr_io_getirq(avr, AVR_IOCTL_IOPORT_GETIRQ(PORTS[index]), IOPORT_IRQ_PIN0);
    avr_raise_irq(port + IOPORT_IRQ_DIRECTION_ALL, 0);
    avr_raise_irq(port + IOPORT_IRQ_REG_PORT, 0);
    for (int bit = 0; bit < 8; bit++) {
        const uint32_t level = (pins[index].external >> bit) & 1;
        avr_raise_irq(port + bit, !level);
        avr_raise_irq(port + bit, level);
    }
}

static void on_reset(struct avr_t *unused) {
    (void)unused;
    printf("%llu reset\n", (unsigned long long)avr->cycle);
    for (unsigned index = 0; index < sizeof PORTS - 1; index++) {
        pins[index].driven = pins[index].high = 0;
        show_pins(index);
        if (pins[index].there) {
            reset_port(index);
        }
    }
    avr_cycle_timer_register(avr, 1, poll_no_interrupts, NULL);
    avr_cycle_timer_register_usec(avr, 1000, free_transmitter, NULL);
}

static void hold_pins(unsigned index) {
    /* The level from outside stands against the pull-up, also after the program writes to the port. */
    avr_ioport_external_t external = {.name = PORTS[index] & 0x7F, .mask = 0xFF, .value = pins[index].external};
    avr_ioctl(avr, AVR_IOCTL_IOPORT_SET_EXTERNAL(PORTS[index]), &external);
}

static void connect_machine(void) {
    for (uintptr_t index = 0; index < sizeof PORTS - 1; index++) {
        avr_irq_t *port = avr_io_getirq(avr, AVR_IOCTL_IOPORT_GETIRQ(PORTS[index]), IOPORT_IRQ_PIN0);
        pins[index].there = port != NULL;
        if (port != NULL) {
            avr_irq_register_notify(port + IOPORT_IRQ_DIRECTION_ALL, on_direction, (void *)index);
            avr_irq_register_notify(port + IOPORT_IRQ_REG_PORT, on_port, (void *)index);
            pins[index].external = 0xFF; /* open contacts, held by the pull-ups */
            hold_pins((unsigned)index);
        }
    }
    uint32_t flags = 0; /* no printing, no sleeping while the program polls */
    avr_ioctl(avr, AVR_IOCTL_UART_SET_FLAGS(uart), &flags);
    avr_irq_t *sent = avr_io_getirq(avr, AVR_IOCTL_UART_GETIRQ(uart), UART_IRQ_OUTPUT);
    if (sent == NULL) {
        fail("no such UART");
    }
    avr_irq_register_notify(sent, on_sent, NULL);
    avr->reset = on_reset;
    poll_no_interrupts(avr, 0, NULL);
    avr_cycle_timer_register_usec(avr, 1000, free_transmitter, NULL);
}

static void set_pin(char port, int bit, int level) {
    const char *found = strchr(PORTS, port);
    if (port == '\0' || found == NULL || !pins[found - PORTS].there || bit < 0 || bit > 7) {
        fail("no such pin");
    }
    struct pins *p = &pins[found - PORTS];
    p->external = (uint8_t)((p->external & ~(1 << bit)) | (level << bit));
    hold_pins((unsigned)(found - PORTS));
    if (!(p->driven & (1 << bit))) {
        avr_raise_irq(avr_io_getirq(avr, AVR_IOCTL_IOPORT_GETIRQ(port), bit), (uint32_t)level);
    }
}

static void queue_byte(uint16_t byte) {
    waiting[waiting_head] = byte;
    waiting_head = (waiting_head + 1) % WAITING;
    if (waiting_head == waiting_tail) {
        fail("too many bytes waiting");
    }
}

static bool begins_pass(void) {
    const unsigned code = avr->flash[avr->pc] | (unsigned)avr->flash[avr->pc + 1] << 8;
    if (passes.mark == 0) {
        return code == 0x95A8u; /* WDR */
    }
    return (code & 0xF800u) == 0xB800u && ((code >> 5 & 0x30u) | (code & 0x0Fu)) == passes.mark; /* OUT */
}

static void time_pass(void) {
    const unsigned used = avr->ramend - (avr->data[R_SPL] | (unsigned)avr->data[R_SPH] << 8);
    passes.stack = used > passes.stack ? used : passes.stack;
    if (!begins_pass()) {
        return;
    }
    const avr_cycle_count_t took = avr->cycle - passes.since;
    if (passes.since != 0) {
        passes.count++;
        passes.total += took;
        passes.longest = took > passes.longest ? took : passes.longest;
    }
    passes.since = avr->cycle;
}

static avr_cycle_count_t stop_here(struct avr_t *machine, avr_cycle_count_t when, void *unused) {
    (void)machine, (void)when, (void)unused;
    return 0;
}

/* Runs instructions up to a cycle at the most. The simulator looks at its timers only when one is due, which is twice as
 * quick: so one is due then. Passes are timed with a look at every instruction. */
static void run_on(avr_cycle_count_t until) {
    avr->run_cycle_limit = passes.timed ? 1 : until - avr->cycle;
    if (!passes.timed) {
        avr_cycle_timer_register(avr, until - avr->cycle, stop_here, NULL);
    }
    avr->run(avr);
    if (avr->state == cpu_Done || avr->state == cpu_Crashed) {
        fail("the program crashed");
    }
}

static void run_until(avr_cycle_count_t cycle) {
    while (avr->cycle < cycle) {
        avr_cycle_count_t until = cycle;
        if (waiting_tail != waiting_head) {
            if (avr->cycle >= next_character) {
                avr_raise_irq(avr_io_getirq(avr, AVR_IOCTL_UART_GETIRQ(uart), UART_IRQ_INPUT), waiting[waiting_tail]);
                waiting_tail = (waiting_tail + 1) % WAITING;
                next_character = avr->cycle + avr->frequency * BITS_A_CHARACTER / BAUD;
            }
            until = next_character < cycle ? next_character : cycle;
        }
        if (passes.timed) {
            time_pass();
        }
        run_on(until);
    }
}

/* ---- What disturbs a chip ---- */

static void put_register(unsigned address, uint8_t value) {
    if (address < 32 || address > avr->ioend) {
        fail("no such register");
    }
    const avr_io_addr_t index = AVR_DATA_TO_IO(address);
    if (avr->io[index].w.c != NULL) {
        avr->io[index].w.c(avr, (avr_io_addr_t)address, value, avr->io[index].w.param);
    } else {
        avr->data[address] = value;
    }
}

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

static void lose_memory(void) {
    uint32_t anything = 1;
    for (unsigned address = avr->ioend + 1u; address <= avr->ramend; address++) {
        anything = anything * 1664525u + 1013904223u;
        avr->data[address] = (uint8_t)(anything >> 24);
    }
}

static void reset_for(const char *cause) {
    if (strcmp(cause, "power") == 0) {
        lose_memory();
    }
    avr_reset(avr);
    avr->data[MCUSR] = strcmp(cause, "power") == 0       ? MCUSR_POWER
                       : strcmp(cause, "brown-out") == 0 ? MCUSR_BROWN_OUT
                                                         : MCUSR_PIN;
}

/* Carries out one cue; returns false at the end of the run. */
static bool carry_out(const char *line) {
    unsigned long long cycle;
    char what[8], rest[8192] = "";
    if (sscanf(line, "%llu %7s %8191[^\n]", &cycle, what, rest) < 2) {
        fail("a line that is no cue");
    }
    run_until(cycle);
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
        memset(&passes, 0, sizeof passes);
        passes.timed = true;
        passes.mark = sscanf(rest, "%x", &address) == 1 ? AVR_DATA_TO_IO(address) : 0;
    } else if (strcmp(what, "end") == 0) {
        if (passes.timed) {
            printf("%llu passes %llu %llu %llu\n", (unsigned long long)avr->cycle, passes.count, passes.longest,
                   passes.total);
            printf("%llu stack %u\n", (unsigned long long)avr->cycle, passes.stack);
        }
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
            run_until(cycle);
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

static long long wall_us(void) {
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return now.tv_sec * 1000000LL + now.tv_nsec / 1000;
}

static void serve_port(void) {
    port_file = posix_openpt(O_RDWR | O_NOCTTY | O_NONBLOCK);
    if (port_file < 0 || grantpt(port_file) != 0 || unlockpt(port_file) != 0) {
        fail("cannot make a serial port");
    }
    /* The other end stays open here, so that clients may come and go. */
    const int other = open(ptsname(port_file), O_RDWR | O_NOCTTY);
    struct termios mode;
    if (other < 0 || tcgetattr(other, &mode) != 0) {
        fail("cannot open the serial port");
    }
    cfmakeraw(&mode);
    tcsetattr(other, TCSANOW, &mode);
    printf("%s\n", ptsname(port_file));
    fflush(stdout);
    if (freopen("/dev/null", "w", stdout) == NULL) { /* nobody reads events from here on */
        fail("cannot be quiet");
    }
    const long long start_us = wall_us();
    const avr_cycle_count_t start = avr->cycle;
    const avr_cycle_count_t slice = avr->frequency / 1000000 * SLICE_US;
    for (avr_cycle_count_t cycle = start;; cycle += slice) {
        uint8_t byte;
        while ((waiting_head + 1) % WAITING != waiting_tail && read(port_file, &byte, 1) == 1) {
            queue_byte(byte);
        }
        run_until(cycle + slice);
        const long long ahead_us = (long long)((cycle - start) / (avr->frequency / 1000000)) - (wall_us() - start_us);
        if (ahead_us > 0) {
            usleep((useconds_t)ahead_us);
        }
        if (getppid() == 1) {
            return; /* whoever started this is gone */
        }
    }
}

static void quiet(struct avr_t *machine, const int level, const char *format, va_list arguments) {
    if (level <= LOG_ERROR) {
        (void)machine;
        vfprintf(stderr, format, arguments);
    }
}

int main(int argc, char *argv[]) {
    if (argc < 5) {
        fail("usage: runner PROGRAM.elf MCU CLOCK_HZ UART [--port]");
    }
    avr_global_logger_set(quiet);
    elf_firmware_t firmware = {0};
    if (elf_read_firmware(argv[1], &firmware) != 0) {
        fail("cannot read the program");
    }
    avr = avr_make_mcu_by_name(argv[2]);
    if (avr == NULL) {
        fail("the simulator does not know this microcontroller");
    }
    uart = argv[4][0];
    avr_init(avr);
    avr_load_firmware(avr, &firmware);
    avr->frequency = (uint32_t)strtoul(argv[3], NULL, 10);
    avr->vcc = avr->avcc = avr->aref = SUPPLY_MV;
    avr->log = LOG_ERROR;
    lose_memory();
    avr->data[MCUSR] = MCUSR_POWER;
    connect_machine();
    setvbuf(stdin, NULL, _IONBF, 0);
    static char buffer[1 << 16];
    setvbuf(stdout, buffer, _IOFBF, sizeof buffer);
    play_cues();
    if (argc > 5 && strcmp(argv[5], "--port") == 0) {
        serve_port();
    }
    return 0;
}
