/* What can be done to a chip, as one line of text says it. */
#ifndef CUES_H
#define CUES_H

#include "machine.h"

/*
 * Does one thing to a chip as it stands; false for anything else than:
 *   pin PORT BIT LEVEL       an input pin, 0 or 1
 *   adc CHANNEL MILLIVOLTS   voltage at an analog channel
 *   uart HEX                 bytes that come in, one after the other at the port's pace
 *   mangled HEX              the same, each with a framing error
 *   ram ADDRESS HEX          bytes put into data memory (address in hex)
 *   flip ADDRESS MASK        bits of a register turn over, as if disturbed (both in hex, the address that of data memory)
 *   stuck ADDRESS VALUE      a register takes a value and keeps it: what the program writes there is lost
 *   free ADDRESS             a stuck register takes what is written again
 *   timer NUMBER HALVINGS    a timer's clock is halved that many times, beyond what its registers say
 *   clock HZ                 the chip's own clock, whose cycles are counted, runs at that frequency
 *   reset [power|brown-out]  a reset by the reset pin, or by the supply; without power the memory is lost
 *   passes [ADDRESS]         from here on, time the passes: from one kick of the watchdog, or one OUT to that register (hex,
 *                            as above), to the next; and look how far down the stack goes
 */
bool obey_cue(struct chip *chip, const char *what, const char *rest);

#endif
