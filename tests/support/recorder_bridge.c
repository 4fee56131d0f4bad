/* The recorder's portable files on the host: a board made of memory around them. No part of the sketch. */
#include <stddef.h>
#include <string.h>

#include "board.h"
#include "inputs.h"
#include "lamp.h"
#include "link.h"
#include "looks.h"
#include "port.h"
#include "press.h"
#include "reset.h"

#define LOOKS_A_PASS 3u

static struct {
    uint16_t lines; /* inputs, as their pins show them */
    uint8_t presses;
    bool jumper;
    uint32_t look;      /* the latest */
    const char *coming; /* NUL behind it */
    char *sent;
    size_t room;
} memory;

void bridge_power_up(bool jumper);
void bridge_ask(const char *coming, char *sent, size_t room);
void bridge_looks(uint32_t count);
void bridge_move(uint16_t line, bool on);
uint8_t bridge_presses(void);

/* Here the bits that are read together are those of the lines, but that the disc's is where the board has it. */
static uint16_t with_disc_moved(uint16_t bits) {
    const uint16_t both = LINE_DISC | RAW_DISC;
    const uint16_t moved = (uint16_t)(((bits & LINE_DISC) != 0 ? RAW_DISC : 0u) | ((bits & RAW_DISC) != 0 ? LINE_DISC : 0u));
    return LINE_DISC == RAW_DISC ? bits : (uint16_t)((bits & (uint16_t)~both) | moved);
}

static void pass(void) {
    const uint32_t now_us = looks_begin_pass();
    inputs_step(now_us);
    link_step(now_us);
    board_press(press_now());
}

static void look(void) {
    const uint16_t presses = (uint16_t)(memory.presses * (LINES_PRESSES / PRESS_ALL));
    memory.look++;
    looks_take(with_disc_moved(memory.lines | presses), (uint8_t)(memory.look * (SAMPLE_US / TICK_US)));
}

void bridge_power_up(bool jumper) {
    memset(&memory, 0, sizeof memory);
    memory.jumper = jumper;
    memory.coming = "";
    inputs_start();
    link_start(board_jumper());
}

void bridge_looks(uint32_t count) {
    for (uint32_t index = 0; index < count; index++) {
        look();
        if (memory.look % LOOKS_A_PASS == 0) {
            pass();
        }
    }
}

/* The board reads a line and answers it while no look is taken, and so while no time passes. */
void bridge_ask(const char *coming, char *sent, size_t room) {
    memory.coming = coming;
    memory.sent = sent;
    memory.room = room;
    for (size_t passes = 0; passes < 4000; passes++) {
        pass();
    }
    memory.coming = "";
    memory.room = 0;
}

void bridge_move(uint16_t line, bool on) {
    memory.lines = (uint16_t)(on ? memory.lines | line : memory.lines & (uint16_t)~line);
}

uint8_t bridge_presses(void) {
    return memory.presses;
}

uint8_t board_reset_cause(void) {
    return RESET_POWER_UP;
}

bool board_jumper(void) {
    return memory.jumper;
}

void board_press(uint8_t presses) {
    memory.presses = presses;
}

uint8_t board_presses(void) {
    return memory.presses;
}

uint16_t board_lines(uint16_t raw) {
    return with_disc_moved(raw);
}

void board_hold_looks(void) {
}

void board_go_on_looking(void) {
}

uint8_t port_receive(char *character) {
    if (*memory.coming == '\0') {
        return PORT_NOTHING;
    }
    *character = *memory.coming;
    memory.coming++;
    return PORT_CHARACTER;
}

bool port_can_send(void) {
    return memory.room > 0;
}

void port_send(char character) {
    *memory.sent = character;
    memory.sent++;
    memory.room--;
}
