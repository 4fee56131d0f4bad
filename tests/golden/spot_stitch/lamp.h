/*
 * The status lamp. Portable C99.
 *
 * spot_stitch, design 87d79af519c50507, made by wirecue 0.0.0.
 * Made from the design file: change that and build again, so that board, bench and papers keep agreeing.
 */

#ifndef LAMP_H
#define LAMP_H

#include <stdbool.h>
#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

/* Takes why the board started, in the numbers of reset.h. */
void lamp_start(uint8_t cause);

/*
 * Tells whether the lamp is lit at now_us; called once a pass, it never waits.
 *
 *   forced from the bench   flickers, about eight times a second
 *   a fault shown           blinks its number, then rests: 1 interlock, 2 supply, 3 state, 4 dial, 5 weld limit, 6 arc start, 7 purge limit, 8 inch limit, 9 arc stays
 *   idle, ready             steady; after a reset that was a fault of board or supply, until the first press: goes dark
 *                           for a moment as often as the number says, then stays lit for a second: 4 brown-out, 5 loop hung, 6 clock slow, 7 converter slow
 *   hold-off, await-release slow, once a second
 *   anything else           blinks, twice a second
 */
bool lamp_lit(uint8_t phase, uint8_t fault, bool forced, uint32_t now_us);

#ifdef __cplusplus
}
#endif

#endif
