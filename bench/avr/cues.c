#include "cues.h"

#include <simavr/avr_adc.h>
#include <simavr/avr_timer.h>
#include <simavr/avr_uart.h>
#include <stdio.h>
#include <string.h>

static void lose_write(struct avr_t *avr, avr_io_addr_t address, uint8_t value, void *unused) {
    (void)avr, (void)address, (void)value, (void)unused;
}

static void stick_register(struct chip *chip, unsigned address, uint8_t value) {
    const avr_io_addr_t index = AVR_DATA_TO_IO(address);
    put_register(chip, address, value);
    if (!chip->stuck[index].is) {
        chip->stuck[index] = (struct stuck){chip->avr->io[index].w.c, chip->avr->io[index].w.param, true};
        chip->avr->io[index].w.c = lose_write;
    }
}

static void free_register(struct chip *chip, unsigned address) {
    const avr_io_addr_t index = AVR_DATA_TO_IO(address);
    if (address < 32 || index >= MAX_IOs) {
        fail("no such register");
    }
    if (chip->stuck[index].is) {
        chip->avr->io[index].w.c = chip->stuck[index].write;
        chip->avr->io[index].w.param = chip->stuck[index].param;
        chip->stuck[index].is = false;
    }
}

static void slow_timer(struct chip *chip, char name, int halvings) {
    for (avr_io_t *io = chip->avr->io_port; io != NULL; io = io->next) {
        avr_timer_t *timer = (avr_timer_t *)io;
        if (strcmp(io->kind, "timer") == 0 && timer->name == name) {
            for (unsigned choice = 1; choice < sizeof timer->cs_div; choice++) {
                timer->cs_div[choice] = (uint8_t)(timer->cs_div[choice] + halvings);
            }
            const unsigned control = timer->cs[0].reg;
            const uint8_t chosen = chip->avr->data[control];
            put_register(chip, control, (uint8_t)(chosen & ~7)); /* stopped, and started anew: it looks at its divider */
            put_register(chip, control, chosen);
            return;
        }
    }
    fail("no such timer");
}

static void queue_hex(struct chip *chip, const char *hex, uint16_t wrong) {
    unsigned byte;
    for (; sscanf(hex, "%2x", &byte) == 1; hex += 2) {
        queue_byte(chip, (uint16_t)(byte | wrong));
    }
}

static void put_hex(struct chip *chip, unsigned address, const char *hex) {
    unsigned byte;
    for (; sscanf(hex, "%2x", &byte) == 1; hex += 2) {
        if (address > chip->avr->ramend) {
            fail("no such memory");
        }
        chip->avr->data[address++] = (uint8_t)byte;
    }
}

bool obey_cue(struct chip *chip, const char *what, const char *rest) {
    char port;
    int first, second, used;
    unsigned byte, address;
    if (strcmp(what, "pin") == 0 && sscanf(rest, "%c %d %d", &port, &first, &second) == 3) {
        set_pin(chip, port, first, second);
    } else if (strcmp(what, "adc") == 0 && sscanf(rest, "%d %d", &first, &second) == 2) {
        avr_raise_irq(avr_io_getirq(chip->avr, AVR_IOCTL_ADC_GETIRQ, first), (uint32_t)second);
    } else if (strcmp(what, "uart") == 0) {
        queue_hex(chip, rest, 0);
    } else if (strcmp(what, "mangled") == 0) {
        queue_hex(chip, rest, UART_INPUT_FE);
    } else if (strcmp(what, "ram") == 0 && sscanf(rest, "%x %n", &address, &used) == 1) {
        put_hex(chip, address, rest + used);
    } else if (strcmp(what, "reset") == 0) {
        reset_for(chip, rest);
    } else if (strcmp(what, "flip") == 0 && sscanf(rest, "%x %x", &address, &byte) == 2 &&
               address <= chip->avr->ioend) {
        put_register(chip, address, (uint8_t)(chip->avr->data[address] ^ byte));
    } else if (strcmp(what, "stuck") == 0 && sscanf(rest, "%x %x", &address, &byte) == 2) {
        stick_register(chip, address, (uint8_t)byte);
    } else if (strcmp(what, "free") == 0 && sscanf(rest, "%x", &address) == 1) {
        free_register(chip, address);
    } else if (strcmp(what, "clock") == 0 && sscanf(rest, "%u", &byte) == 1) {
        chip->avr->frequency = byte;
    } else if (strcmp(what, "timer") == 0 && sscanf(rest, "%c %d", &port, &first) == 2) {
        slow_timer(chip, port, first);
    } else if (strcmp(what, "passes") == 0) {
        passes_begin(chip, sscanf(rest, "%x", &address) == 1 ? AVR_DATA_TO_IO(address) : 0);
    } else {
        return false;
    }
    return true;
}
