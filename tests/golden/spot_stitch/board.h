/*
 * What the portable files ask of the board. Nothing here waits.
 *
 * spot_stitch, design 87d79af519c50507, made by wirecue 0.0.0.
 * Made from the design file: change that and build again, so that board, bench and papers keep agreeing.
 */

#ifndef BOARD_H
#define BOARD_H

#include <stdbool.h>
#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

/* Puts every output at its off level, then makes it an output; contacts get their pull-ups; starts the rest. */
void board_start(void);

/* Says that a pass began at now_us. The watchdog is served from here, and only while the clock moves and the converter
 * delivers, each at its pace by the other; else everything goes off and the board starts anew. */
void board_alive(uint32_t now_us);

/* A pass begins. Writes registers of pins and clock anew, so that what disturbed one does not last; called in every pass. */
void board_refresh(void);

/* Tells whether the present pass has been short so far: else it does not talk. */
bool board_has_time(void);

/* Why the board last started, in the numbers of reset.h; one that the lamp tells is kept until power-up. */
uint8_t board_reset_cause(void);

/* Keeps the fault that is shown now over a reset, in the numbers of sequence.h; with none shown, nothing changes. */
void board_keep_fault(uint8_t fault);

/* The latest fault kept since power-up. */
uint8_t board_kept_fault(void);

/* Holds the loop until the watchdog bites. */
void board_hang(void);

/* Tells whether the bench link was fitted at power-up. */
bool board_bench_link(void);

/* The contacts as the pins show them now, in the bits of control.h. */
uint16_t board_contacts(void);

/* Switches the outputs, in the bits of sequence.h. */
void board_switch(uint8_t outputs);

/* The outputs as read back from the pins. */
uint8_t board_outputs(void);

void board_lamp(bool lit);

/* Takes a finished reading of the converter, if there is one, and starts the next. */
bool board_reading(uint8_t *reading, uint16_t *counts);

/* The board's clock, in microseconds, wrapping at 2^32. */
uint32_t board_now_us(void);

#ifdef __cplusplus
}
#endif

#endif
