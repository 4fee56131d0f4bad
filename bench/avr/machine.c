#include "machine.h"

#include <simavr/avr_extint.h>
#include <simavr/avr_ioport.h>
#include <simavr/avr_uart.h>
#include <simavr/avr_watchdog.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#define PORTS "ABCDEFGHJKL"
#define MCUSR 0x54 /* in all of this family */
#define MCUSR_POWER (1 << 0)
#define MCUSR_PIN (1 << 1)
#define MCUSR_BROWN_OUT (1 << 2)
#define MCUSR_WATCHDOG (1 << 3)
#define WDTCSR 0x60 /* and this */
#define WDCE (1 << 4)
#define WDE (1 << 3)
#define UART_STATUS (0xC0u + 8u * (unsigned)(uart - '0')) /* UCSRnA; UCSRnB is the next, UBRRn the fourth and fifth */
#define UDRE (1 << 5)
#define U2X (1 << 1)
#define TXEN (1 << 3)
#define BITS_A_CHARACTER 10
#define BAUD 115200
#define SUPPLY_MV 5000
#define WAITING 4096 /* a power of two */
#define OUT_OF_STEP_PERCENT 4 /* ten bits keep in step up to here */

avr_t *avr;
int port_file = -1;
unsigned line_baud;
static char uart;
static struct pins {
    uint8_t driven, high, shown_driven, shown_high; /* by the program; as last printed */
    uint8_t external;                               /* levels from outside */
    bool there;
} pins[sizeof PORTS];
static uint16_t waiting[WAITING]; /* with what is wrong with them, as the simulator takes it */
static unsigned waiting_head, waiting_tail;
static avr_cycle_count_t next_character;
static struct {
    bool timed;
    unsigned mark; /* I/O address of the register that begins a pass; 0: the watchdog's kick does */
    unsigned long long count, longest, total;
    avr_cycle_count_t since;
    unsigned stack; /* bytes of it that were in use at the most */
} passes;

void fail(const char *what) {
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

/* Tells whether the two ends of the line speak at speeds that make nonsense of each other's bytes. */
static bool out_of_step(void) {
    if (line_baud == 0) {
        return false;
    }
    const uint8_t *registers = &avr->data[UART_STATUS];
    const unsigned divider = (registers[4] | (registers[5] & 0x0Fu) << 8) + 1u;
    const unsigned chip_baud = avr->frequency / ((registers[0] & U2X ? 8u : 16u) * divider);
    const unsigned apart = chip_baud > line_baud ? chip_baud - line_baud : line_baud - chip_baud;
    return apart * 100u > OUT_OF_STEP_PERCENT * line_baud;
}

#define NONSENSE 0xA5 /* turned over in a byte that is read at another speed (choice) */

static void on_sent(struct avr_irq_t *irq, uint32_t value, void *unused) {
    (void)irq, (void)unused;
    const uint8_t byte = (uint8_t)(out_of_step() ? value ^ NONSENSE : value);
    if (port_file >= 0) {
        (void)!write(port_file, &byte, 1); /* nobody there: lost, as on a wire */
    } else {
        printf("%llu uart %02x\n", (unsigned long long)avr->cycle, byte);
    }
}

/* This simulator forgets that the transmitter is free when a program switches the port off and on again, as the boards'
 * core does at start, and their bootloaders before it: say so whenever it comes on. */
static void on_uart_control(struct avr_t *machine, avr_io_addr_t address, uint8_t value, void *unused) {
    (void)address, (void)unused;
    static bool was_on;
    const bool on = value & TXEN;
    if (on && !was_on) {
        machine->data[UART_STATUS] |= UDRE;
    }
    was_on = on;
}

/* A new period of the watchdog counts from its next kick here; on the chip it counts at once. */
static void on_watchdog_control(struct avr_t *machine, avr_io_addr_t address, uint8_t value, void *unused) {
    (void)address, (void)value, (void)unused;
    avr_ioctl(machine, AVR_IOCTL_WATCHDOG_RESET, NULL);
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
}

static void hold_pins(unsigned index) {
    /* The level from outside stands against the pull-up, also after the program writes to the port. */
    avr_ioport_external_t external = {.name = PORTS[index] & 0x7F, .mask = 0xFF, .value = pins[index].external};
    avr_ioctl(avr, AVR_IOCTL_IOPORT_SET_EXTERNAL(PORTS[index]), &external);
}

void machine_connect(void) {
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
    avr_register_io_write(avr, (avr_io_addr_t)(UART_STATUS + 1), on_uart_control, NULL);
    avr_register_io_write(avr, WDTCSR, on_watchdog_control, NULL);
}

void set_pin(char port, int bit, int level) {
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

void queue_byte(uint16_t byte) {
    waiting[waiting_head] = byte;
    waiting_head = (waiting_head + 1) % WAITING;
    if (waiting_head == waiting_tail) {
        fail("too many bytes waiting");
    }
}

bool queue_has_room(void) {
    return (waiting_head + 1) % WAITING != waiting_tail;
}

void queue_clear(void) {
    waiting_tail = waiting_head;
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
static bool run_on(avr_cycle_count_t until) {
    avr->run_cycle_limit = passes.timed ? 1 : until - avr->cycle;
    if (!passes.timed) {
        avr_cycle_timer_register(avr, until - avr->cycle, stop_here, NULL);
    }
    avr->run(avr);
    return avr->state != cpu_Done && avr->state != cpu_Crashed;
}

bool run_until(avr_cycle_count_t cycle) {
    while (avr->cycle < cycle) {
        avr_cycle_count_t until = cycle;
        if (waiting_tail != waiting_head) {
            if (avr->cycle >= next_character) {
                const uint16_t wrong = out_of_step() ? NONSENSE | UART_INPUT_FE : 0;
                avr_raise_irq(avr_io_getirq(avr, AVR_IOCTL_UART_GETIRQ(uart), UART_IRQ_INPUT),
                              waiting[waiting_tail] ^ wrong);
                waiting_tail = (waiting_tail + 1) % WAITING;
                next_character = avr->cycle + avr->frequency * BITS_A_CHARACTER / (line_baud ? line_baud : BAUD);
            }
            until = next_character < cycle ? next_character : cycle;
        }
        if (passes.timed) {
            time_pass();
        }
        if (!run_on(until)) {
            return false;
        }
    }
    return true;
}

void passes_begin(unsigned mark) {
    memset(&passes, 0, sizeof passes);
    passes.timed = true;
    passes.mark = mark;
}

void passes_print(void) {
    if (passes.timed) {
        printf("%llu passes %llu %llu %llu\n", (unsigned long long)avr->cycle, passes.count, passes.longest,
               passes.total);
        printf("%llu stack %u\n", (unsigned long long)avr->cycle, passes.stack);
    }
}

void put_register(unsigned address, uint8_t value) {
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

static void lose_memory(void) {
    uint32_t anything = 1;
    for (unsigned address = avr->ioend + 1u; address <= avr->ramend; address++) {
        anything = anything * 1664525u + 1013904223u;
        avr->data[address] = (uint8_t)(anything >> 24);
    }
}

/* A flag of a reset stays until a program clears it, or until the supply was gone. */
void reset_for(const char *cause) {
    const bool power = strcmp(cause, "power") == 0;
    const uint8_t before = power ? 0 : avr->data[MCUSR];
    if (power) {
        lose_memory();
    }
    avr_reset(avr);
    avr->data[MCUSR] = before | (power                              ? MCUSR_POWER
                                 : strcmp(cause, "brown-out") == 0 ? MCUSR_BROWN_OUT
                                                                    : MCUSR_PIN);
    if (before & MCUSR_WATCHDOG) { /* then the watchdog runs, with its shortest time; this simulator stopped it */
        put_register(WDTCSR, WDCE | WDE);
        put_register(WDTCSR, WDE);
    }
}

static void quiet(struct avr_t *machine, const int level, const char *format, va_list arguments) {
    if (level <= LOG_ERROR) {
        (void)machine;
        vfprintf(stderr, format, arguments);
    }
}

void machine_make(const char *mcu, uint32_t clock_hz, char uart_name) {
    avr_global_logger_set(quiet);
    avr = avr_make_mcu_by_name(mcu);
    if (avr == NULL) {
        fail("the simulator does not know this microcontroller");
    }
    uart = uart_name;
    avr_init(avr);
    avr->frequency = clock_hz;
    avr->vcc = avr->avcc = avr->aref = SUPPLY_MV;
    avr->log = LOG_ERROR;
    lose_memory();
    avr->data[MCUSR] = MCUSR_POWER;
}
