/*
 * The portable sketch without its board, for Frama-C's value analysis: passes without end, with every contact, reading,
 * character and instant free, and characters lost or mutilated at any time. board.h's functions have no body here:
 * each may answer anything.
 *
 * Texts in flash count as endless here, with any character at any place; that the reads stay inside is shown by
 * texts.c, one text after the other.
 */
#include <stdbool.h>
#include <stdint.h>

#include "__fc_builtin.h"
#include "flash.h"

static char any_char(void) { return (char)Frama_C_interval(-128, 127); }
static bool any_bool(void) { return (bool)Frama_C_interval(0, 1); }
static uint32_t any_u32(void) { return Frama_C_unsigned_long_interval(0, 4294967295ul); }
static uint16_t any_u16(void) { return (uint16_t)Frama_C_unsigned_int_interval(0, 65535u); }

#undef FLASH_CHAR
#define FLASH_CHAR(address) ((void)(address), any_char())
/* Part of this file, so that its texts are read through the line above. */
#include "link.c"

#include "control.h"
#include "lamp.h"
#include "received.h"
#include "sequence.h"

bool port_can_send(void) { return any_bool(); }
void port_send(char character) { (void)character; }
uint8_t port_receive(char *character) { return received_take(character); }

int main(void) {
    control_start(any_u32());
    lamp_start((uint8_t)Frama_C_interval(0, 255));
    link_start(any_bool());
    while (any_bool()) {
        const uint32_t now_us = any_u32();
        if (any_bool()) {
            received_character(any_char());
        }
        if (any_bool()) {
            received_error(any_bool() ? PORT_OVERRUN : PORT_FRAMING);
        }
        if (any_bool()) {
            control_reading((uint8_t)Frama_C_interval(0, READING_COUNT - 1),
                            (uint16_t)Frama_C_interval(0, FULL_SCALE), now_us);
        }
        const uint8_t outputs = control_step(any_u16(), now_us);
        /*@ assert only_three_outputs: outputs <= 7; */
        control_lamp(now_us);
        if (!control_note((uint8_t)Frama_C_interval(0, 7), now_us)) {
            link_step(now_us);
        }
    }
    return 0;
}
