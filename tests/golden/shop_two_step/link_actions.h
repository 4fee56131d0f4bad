/*
 * What each command of the serial link does and answers. Portable C99.
 *
 * shop_two_step, design c9a9dd55f7f73f17, made by wirecue 0.0.0.
 * Made from the design file: change that and build again, so that board, bench and papers keep agreeing.
 */

#ifndef LINK_ACTIONS_H
#define LINK_ACTIONS_H

#include <stdbool.h>
#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

#define MOST_NUMBERS 5u
#define MOST_PARAMETERS 2u

/* What a query answers: a text in flash, or numbers. A command that is no query answers neither. */
typedef struct {
    const char *text; /* NULL: numbers */
    uint8_t count;
    uint32_t numbers[MOST_NUMBERS];
} link_answer;

/* Carries out one command; returns an error of link_commands.h, ERROR_NONE when it was done. jumper: whether commands
 * that could move an output are taken. */
uint8_t link_carry_out(uint8_t command, const uint16_t *parameters, bool jumper, uint32_t now_us, link_answer *answer);

/* A complete line came. */
void link_line_came(uint32_t now_us);

/* Called in every pass of the link: what was asked of the board over it lapses when it is time. Returns what the status
 * registers show, in the bits of link_status.h. */
uint8_t link_watch(uint32_t now_us);

#ifdef __cplusplus
}
#endif

#endif
