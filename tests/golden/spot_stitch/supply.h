/*
 * The supply sense: low after its filter, good from a higher threshold on. Portable C99.
 *
 * spot_stitch, design 87d79af519c50507, made by wirecue 0.0.0.
 * Made from the design file: change that and build again, so that board, bench and papers keep agreeing.
 */

#ifndef SUPPLY_H
#define SUPPLY_H

#include <stdbool.h>
#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

/* Takes the supply as neither low nor good, until it was read. */
void supply_start(void);

/* Takes one reading of the supply. */
void supply_reading(uint16_t counts, uint32_t now_us);

/* Tells whether the supply counts as low: below the lower threshold for its filter time. A weld then ends at once. */
bool supply_is_low(void);

/* Tells whether the latest reading was at or above the upper threshold. Hold-off waits for that. */
bool supply_is_good(void);

#ifdef __cplusplus
}
#endif

#endif
