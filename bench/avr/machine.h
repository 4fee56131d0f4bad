/*
 * An AVR in a simulator, with its pins and the line to its serial port: what all that is done to it shares.
 *
 * What happens is printed, one event a line; runner.c lists them.
 */
#ifndef MACHINE_H
#define MACHINE_H

#include <simavr/sim_avr.h>
#include <stdbool.h>
#include <stdint.h>

extern avr_t *avr;

/* Where its serial port leads, as an open file; -1: each byte that it sends is an event. */
extern int port_file;

/* What the far end of that port speaks, in baud; 0: whatever the program has set. */
extern unsigned line_baud;

/* Ends the process with a sentence. */
void fail(const char *what) __attribute__((noreturn));

/* Makes the machine, without a program in it. */
void machine_make(const char *mcu, uint32_t clock_hz, char uart_name);

/* Connects its pins and its serial port, with the program in it, as at power-up. */
void machine_connect(void);

/* Puts a level at an input pin. */
void set_pin(char port, int bit, int level);

/* Lets a byte come in, after those that wait, with what is wrong with it as the simulator takes it. */
void queue_byte(uint16_t byte);

/* Returns whether one more byte can wait. */
bool queue_has_room(void);

/* Forgets the bytes that wait. */
void queue_clear(void);

/* Runs up to a cycle. Returns false where the program ran into nothing; a reset starts it again. */
bool run_until(avr_cycle_count_t cycle);

/* Times passes from here on: from one OUT to that I/O address to the next, or one kick of the watchdog where it is 0. */
void passes_begin(unsigned mark);

/* Prints how long they took, if they were timed. */
void passes_print(void);

/* Writes a register as a program would. */
void put_register(unsigned address, uint8_t value);

/* Resets it: by its pin, or as the supply does ("power", "brown-out"). */
void reset_for(const char *cause);

#endif
