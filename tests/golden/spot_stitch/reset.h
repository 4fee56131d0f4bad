/*
 * Why the board started. The numbers travel over the serial link.
 *
 * spot_stitch, design 87d79af519c50507, made by wirecue 0.0.0.
 * Made from the design file: change that and build again, so that board, bench and papers keep agreeing.
 */

#ifndef RESET_H
#define RESET_H

/* One that the lamp tells is not forgotten for one that it does not tell, until power-up. */
enum {
    RESET_UNTOLD = 0, /* the bootloader keeps the chip's reset flags to itself */
    RESET_POWER_UP = 1, /* the supply came up */
    RESET_PIN = 2, /* its button, or a host that opened the serial port */
    RESET_WATCHDOG = 3, /* the watchdog, or a bootloader that starts the sketch through it after a reset by the pin */
    RESET_BROWN_OUT = 4, /* the board's own supply fell below the chip's brown-out level */
    RESET_LOOP = 5, /* the program stood still and the watchdog ended it */
    RESET_CLOCK = 6, /* the clock that times the weld stopped or fell behind the converter */
    RESET_CONVERTER = 7, /* the converter that reads dials and supply stopped or fell behind the clock */
    RESET_FIRST_ON_LAMP = RESET_BROWN_OUT /* from this one on the lamp tells it until the first press */
};

#endif
