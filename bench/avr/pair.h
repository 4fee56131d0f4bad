/*
 * Two chips beside each other, each with its own program and its own clock, in one true time.
 *
 * True time is counted in nanoseconds since both had power. A chip's CLOCK_HZ is what its crystal really does; its
 * program does not know. Nothing leads from one to the other here: whoever gives the orders knows what lies between.
 *
 * Orders on standard input, one a line; a chip is 0 or 1:
 *   CHIP pin|adc|uart|... ...   a cue as cues.h lists it, `clock` left out, at once
 *   CHIP watch PORT BIT         from now on a run ends where this pin changes
 *   ahead NS                    neither chip gets further in front of the other than that, while a run lasts
 *   run NS                      both run until that true time, a change of a watched pin, or the end of a line that one sends
 *   ports                       bytes go through two pseudo terminals from here on, no faster than the wall clock; prints their
 *                               names, a line each
 *   fork                        what follows, up to `end`, happens to a copy of both as they stand
 *   end                         the copy ends, or all of it
 *
 * A run answers with what happened, `NS CHIP pin PORT BIT 0|1|z`, `NS CHIP uart HEX`, `NS CHIP reset`, `NS CHIP crashed`, and
 * last of all `NS stands`: both have come so far. One may be further, and what it did there is told already; the next run
 * goes on from where each stands. What one chip did is told in order; what both did is not.
 */
#ifndef PAIR_H
#define PAIR_H

#define PAIR_ARGUMENTS 8 /* PROGRAM.elf MCU CLOCK_HZ UART, twice */

/* Obeys orders until they end. */
void serve_pair(char *arguments[]);

#endif
