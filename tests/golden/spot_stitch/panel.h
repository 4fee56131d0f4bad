/*
 * Switches of the panel, and the interlock: they count once several looks at them agree. Portable C99.
 *
 * spot_stitch, design 87d79af519c50507, made by wirecue 0.0.0.
 * Made from the design file: change that and build again, so that board, bench and papers keep agreeing.
 */

#ifndef PANEL_H
#define PANEL_H

#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

/* Takes the contacts as they stand at the start. */
void panel_start(uint16_t contacts);

/*
 * Takes the contacts of one pass; returns them with switches and interlock as they count. A look is taken every
 * 128 us, and 4 that agree make a change: what lasts less than 0.384 ms does nothing, what stays is seen after
 * 0.512 ms and a pass at the latest. Contacts with a filter of their own pass through.
 */
uint16_t panel_read(uint16_t contacts, uint32_t now_us);

#ifdef __cplusplus
}
#endif

#endif
