#include "machine.h"

#include <simavr/avr_extint.h>
#include <simavr/avr_ioport.h>
#include <simavr/avr_uart.h>
#include <simavr/avr_watchdog.h>
#include <simavr/sim_elf.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#define PORTS (sizeof CHIP_PORTS - 1)
#define MCUSR 0x54 /* in all of this family */
#define MCUSR_POWER (1 << 0)
#define MCUSR_PIN (1 << 1)
#define MCUSR_BROWN_OUT (1 << 2)
#define MCUSR_WATCHDOG (1 << 3)
#define WDTCSR 0x60 /* and this */
#define WDCE (1 << 4)
#define WDE (1 << 3)
#define UDRE (1 << 5)
#define U2X (1 << 1)
#define TXEN (1 << 3)
#define BITS_A_CHARACTER 10
#define BAUD 115200
#define SUPPLY_MV 5000
#define OUT_OF_STEP_PERCENT 4 /* ten bits keep in step up to here */

void fail(const char *what) {
    fprintf(stderr, "runner: %s\n", what);
    exit(2);
}

/* Returns the address of UCSRnA; UCSRnB is the next, UBRRn the fourth and fifth. */
static unsigned uart_status(const struct chip *chip) {
    return 0xC0u + 8u * (unsigned)(chip->uart - '0');
}

static void show_pins(struct port_pins *p) {
    for (int bit = 0; bit < 8; bit++) {
        const uint8_t mask = (uint8_t)(1 << bit);
        const bool driven = p->driven & mask, high = p->high & mask;
        if (driven != !!(p->shown_driven & mask) || (driven && high != !!(p->shown_high & mask))) {
            p->chip->witness->pin(p->chip, p->name, bit, driven ? (char)('0' + high) : 'z');
        }
    }
    p->shown_driven = p->driven;
    p->shown_high = p->high;
}

static void on_direction(struct avr_irq_t *irq, uint32_t value, void *pins) {
    (void)irq;
    ((struct port_pins *)pins)->driven = (uint8_t)value;
    show_pins(pins);
}

static void on_port(struct avr_irq_t *irq, uint32_t value, void *pins) {
    (void)irq;
    ((struct port_pins *)pins)->high = (uint8_t)value;
    show_pins(pins);
}

/* Tells whether the two ends of the line speak at speeds that make nonsense of each other's bytes. */
static bool out_of_step(const struct chip *chip) {
    if (chip->line_baud == 0) {
        return false;
    }
    const uint8_t *registers = &chip->avr->data[uart_status(chip)];
    const unsigned divider = (registers[4] | (registers[5] & 0x0Fu) << 8) + 1u;
    const unsigned chip_baud = chip->avr->frequency / ((registers[0] & U2X ? 8u : 16u) * divider);
    const unsigned apart = chip_baud > chip->line_baud ? chip_baud - chip->line_baud : chip->line_baud - chip_baud;
    return apart * 100u > OUT_OF_STEP_PERCENT * chip->line_baud;
}

#define NONSENSE 0xA5 /* turned over in a byte that is read at another speed (choice) */

static void on_sent(struct avr_irq_t *irq, uint32_t value, void *of) {
    (void)irq;
    struct chip *chip = of;
    const uint8_t byte = (uint8_t)(out_of_step(chip) ? value ^ NONSENSE : value);
    if (chip->port_file >= 0) {
        (void)!write(chip->port_file, &byte, 1); /* nobody there: lost, as on a wire */
    } else {
        chip->witness->sent(chip, byte);
    }
}

/* This simulator forgets that the transmitter is free when a program switches the port off and on again, as the boards'
 * core does at start, and their bootloaders before it: say so whenever it comes on. */
static void on_uart_control(struct avr_t *avr, avr_io_addr_t address, uint8_t value, void *of) {
    (void)address;
    struct chip *chip = of;
    const bool on = value & TXEN;
    if (on && !chip->sends) {
        avr->data[uart_status(chip)] |= UDRE;
    }
    chip->sends = on;
}

/* A new period of the watchdog counts from its next kick here; on the chip it counts at once. */
static void on_watchdog_control(struct avr_t *avr, avr_io_addr_t address, uint8_t value, void *unused) {
    (void)address, (void)value, (void)unused;
    avr_ioctl(avr, AVR_IOCTL_WATCHDOG_RESET, NULL);
}

/* While an external interrupt's pin is low, this simulator polls it in every cycle, used or not, and every reset lets it
 * do so again: the program uses none, and the trigger's pin is one of them. */
static avr_cycle_count_t poll_no_interrupts(struct avr_t *avr, avr_cycle_count_t when, void *unused) {
    (void)when, (void)unused;
    for (uint8_t number = 0; number < EXTINT_COUNT; number++) {
        avr_extint_set_strict_lvl_trig(avr, number, 0);
    }
    return 0;
}

/* A reset clears the registers of a port; this simulator then takes what is as it was before the reset for known and
 * tells nobody: say it all anew. */
static void reset_port(const struct port_pins *p) {
    avr_irq_t *port = avr_io_getirq(p->chip->avr, AVR_IOCTL_IOPORT_GETIRQ(p->name), IOPORT_IRQ_PIN0);
    avr_raise_irq(port + IOPORT_IRQ_DIRECTION_ALL, 0);
    avr_raise_irq(port + IOPORT_IRQ_REG_PORT, 0);
    for (int bit = 0; bit < 8; bit++) {
        const uint32_t level = (p->external >> bit) & 1;
        avr_raise_irq(port + bit, !level);
        avr_raise_irq(port + bit, level);
    }
}

static void on_reset(struct avr_t *avr) {
    struct chip *chip = avr->custom.data;
    chip->witness->reset(chip);
    for (unsigned index = 0; index < PORTS; index++) {
        struct port_pins *p = &chip->ports[index];
        p->driven = p->high = 0;
        show_pins(p);
        if (p->there) {
            reset_port(p);
        }
    }
    avr_cycle_timer_register(avr, 1, poll_no_interrupts, NULL);
}

static void hold_pins(const struct port_pins *p) {
    /* The level from outside stands against the pull-up, also after the program writes to the port. */
    avr_ioport_external_t external = {.name = p->name & 0x7F, .mask = 0xFF, .value = p->external};
    avr_ioctl(p->chip->avr, AVR_IOCTL_IOPORT_SET_EXTERNAL(p->name), &external);
}

void machine_connect(struct chip *chip) {
    avr_t *avr = chip->avr;
    for (unsigned index = 0; index < PORTS; index++) {
        struct port_pins *p = &chip->ports[index];
        *p = (struct port_pins){.chip = chip, .name = CHIP_PORTS[index]};
        avr_irq_t *port = avr_io_getirq(avr, AVR_IOCTL_IOPORT_GETIRQ(p->name), IOPORT_IRQ_PIN0);
        p->there = port != NULL;
        if (port != NULL) {
            avr_irq_register_notify(port + IOPORT_IRQ_DIRECTION_ALL, on_direction, p);
            avr_irq_register_notify(port + IOPORT_IRQ_REG_PORT, on_port, p);
            p->external = 0xFF; /* open contacts, held by the pull-ups */
            hold_pins(p);
        }
    }
    uint32_t flags = 0; /* no printing, no sleeping while the program polls */
    avr_ioctl(avr, AVR_IOCTL_UART_SET_FLAGS(chip->uart), &flags);
    avr_irq_t *sent = avr_io_getirq(avr, AVR_IOCTL_UART_GETIRQ(chip->uart), UART_IRQ_OUTPUT);
    if (sent == NULL) {
        fail("no such UART");
    }
    avr_irq_register_notify(sent, on_sent, chip);
    avr->reset = on_reset;
    poll_no_interrupts(avr, 0, NULL);
    avr_register_io_write(avr, (avr_io_addr_t)(uart_status(chip) + 1), on_uart_control, chip);
    avr_register_io_write(avr, WDTCSR, on_watchdog_control, NULL);
}

void set_pin(struct chip *chip, char port, int bit, int level) {
    const char *found = strchr(CHIP_PORTS, port);
    struct port_pins *p = port == '\0' || found == NULL ? NULL : &chip->ports[found - CHIP_PORTS];
    if (p == NULL || !p->there || bit < 0 || bit > 7) {
        fail("no such pin");
    }
    p->external = (uint8_t)((p->external & ~(1 << bit)) | (!!level << bit));
    hold_pins(p);
    if (!(p->driven & (1 << bit))) {
        avr_raise_irq(avr_io_getirq(chip->avr, AVR_IOCTL_IOPORT_GETIRQ(port), bit), (uint32_t)!!level);
    }
}

void queue_byte(struct chip *chip, uint16_t byte) {
    chip->waiting[chip->waiting_head] = byte;
    chip->waiting_head = (chip->waiting_head + 1) % CHIP_WAITING;
    if (chip->waiting_head == chip->waiting_tail) {
        fail("too many bytes waiting");
    }
}

bool queue_has_room(const struct chip *chip) {
    return (chip->waiting_head + 1) % CHIP_WAITING != chip->waiting_tail;
}

void queue_clear(struct chip *chip) {
    chip->waiting_tail = chip->waiting_head;
}

static bool begins_pass(const struct chip *chip) {
    const avr_t *avr = chip->avr;
    const unsigned code = avr->flash[avr->pc] | (unsigned)avr->flash[avr->pc + 1] << 8;
    if (chip->passes.mark == 0) {
        return code == 0x95A8u; /* WDR */
    }
    return (code & 0xF800u) == 0xB800u && ((code >> 5 & 0x30u) | (code & 0x0Fu)) == chip->passes.mark; /* OUT */
}

static void time_pass(struct chip *chip) {
    const avr_t *avr = chip->avr;
    const unsigned used = avr->ramend - (avr->data[R_SPL] | (unsigned)avr->data[R_SPH] << 8);
    chip->passes.stack = used > chip->passes.stack ? used : chip->passes.stack;
    if (!begins_pass(chip)) {
        return;
    }
    const avr_cycle_count_t took = avr->cycle - chip->passes.since;
    if (chip->passes.since != 0) {
        chip->passes.count++;
        chip->passes.total += took;
        chip->passes.longest = took > chip->passes.longest ? took : chip->passes.longest;
    }
    chip->passes.since = avr->cycle;
}

static avr_cycle_count_t stop_here(struct avr_t *avr, avr_cycle_count_t when, void *unused) {
    (void)avr, (void)when, (void)unused;
    return 0;
}

/* Runs instructions up to a cycle at the most. The simulator looks at its timers only when one is due, which is twice as
 * quick: so one is due then. Passes are timed with a look at every instruction. */
static bool run_on(struct chip *chip, avr_cycle_count_t until) {
    avr_t *avr = chip->avr;
    avr->run_cycle_limit = chip->passes.timed ? 1 : until - avr->cycle;
    if (!chip->passes.timed) {
        avr_cycle_timer_register(avr, until - avr->cycle, stop_here, NULL);
    }
    avr->run(avr);
    return avr->state != cpu_Done && avr->state != cpu_Crashed;
}

static void take_byte(struct chip *chip) {
    const avr_t *avr = chip->avr;
    const uint16_t wrong = out_of_step(chip) ? NONSENSE | UART_INPUT_FE : 0;
    avr_raise_irq(avr_io_getirq(chip->avr, AVR_IOCTL_UART_GETIRQ(chip->uart), UART_IRQ_INPUT),
                  chip->waiting[chip->waiting_tail] ^ wrong);
    chip->waiting_tail = (chip->waiting_tail + 1) % CHIP_WAITING;
    chip->next_character = avr->cycle + avr->frequency * BITS_A_CHARACTER / (chip->line_baud ? chip->line_baud : BAUD);
}

bool run_until(struct chip *chip, avr_cycle_count_t cycle) {
    const avr_t *avr = chip->avr;
    chip->halted = false;
    while (avr->cycle < cycle && !chip->halted) {
        avr_cycle_count_t until = cycle;
        if (chip->waiting_tail != chip->waiting_head) {
            if (avr->cycle >= chip->next_character) {
                take_byte(chip);
            }
            until = chip->next_character < cycle ? chip->next_character : cycle;
        }
        if (chip->passes.timed) {
            time_pass(chip);
        }
        if (!run_on(chip, until)) {
            return false;
        }
    }
    return true;
}

void halt(struct chip *chip) {
    chip->halted = true;
    chip->avr->run_cycle_count = 0; /* the simulator leaves its loop behind this instruction */
}

void passes_begin(struct chip *chip, unsigned mark) {
    memset(&chip->passes, 0, sizeof chip->passes);
    chip->passes.timed = true;
    chip->passes.mark = mark;
}

void put_register(struct chip *chip, unsigned address, uint8_t value) {
    avr_t *avr = chip->avr;
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

static void lose_memory(avr_t *avr) {
    uint32_t anything = 1;
    for (unsigned address = avr->ioend + 1u; address <= avr->ramend; address++) {
        anything = anything * 1664525u + 1013904223u;
        avr->data[address] = (uint8_t)(anything >> 24);
    }
}

/* A flag of a reset stays until a program clears it, or until the supply was gone. */
void reset_for(struct chip *chip, const char *cause) {
    avr_t *avr = chip->avr;
    const bool power = strcmp(cause, "power") == 0;
    const uint8_t before = power ? 0 : avr->data[MCUSR];
    if (power) {
        lose_memory(avr);
    }
    avr_reset(avr);
    avr->data[MCUSR] = before | (power                              ? MCUSR_POWER
                                 : strcmp(cause, "brown-out") == 0 ? MCUSR_BROWN_OUT
                                                                    : MCUSR_PIN);
    if (before & MCUSR_WATCHDOG) { /* then the watchdog runs, with its shortest time; this simulator stopped it */
        put_register(chip, WDTCSR, WDCE | WDE);
        put_register(chip, WDTCSR, WDE);
    }
}

static void quiet(struct avr_t *avr, const int level, const char *format, va_list arguments) {
    if (level <= LOG_ERROR) {
        (void)avr;
        vfprintf(stderr, format, arguments);
    }
}

void machine_make(struct chip *chip, const char *mcu, uint32_t clock_hz, char uart_name,
                  const struct witness *witness) {
    avr_global_logger_set(quiet);
    avr_t *avr = avr_make_mcu_by_name(mcu);
    if (avr == NULL) {
        fail("the simulator does not know this microcontroller");
    }
    *chip = (struct chip){.avr = avr, .witness = witness, .port_file = -1, .uart = uart_name};
    avr->custom.data = chip;
    avr_init(avr);
    avr->frequency = clock_hz;
    avr->vcc = avr->avcc = avr->aref = SUPPLY_MV;
    avr->log = LOG_ERROR;
    lose_memory(avr);
    avr->data[MCUSR] = MCUSR_POWER;
}

void machine_load(struct chip *chip, const char *path) {
    elf_firmware_t firmware = {0};
    if (elf_read_firmware(path, &firmware) != 0) {
        fail("cannot read the program");
    }
    avr_load_firmware(chip->avr, &firmware);
}
