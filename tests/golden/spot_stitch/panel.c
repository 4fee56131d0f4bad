/*
 * Switches of the panel, and the interlock.
 *
 * spot_stitch, design 87d79af519c50507, made by wirecue 0.0.0.
 * Made from the design file: change that and build again, so that board, bench and papers keep agreeing.
 */

#include "panel.h"

#include "control.h"

#define LOOKED_AT ((uint16_t)(CONTACT_SPOT_SWITCH | CONTACT_PAUSE_SWITCH))

static uint16_t steady;  /* as they count, in the bits of the contacts word */
static uint16_t count_0; /* looks that differ from that: two bits a contact, counting down */
static uint16_t count_1;
static uint8_t last_look;

void panel_start(uint16_t contacts) {
    steady = contacts & LOOKED_AT;
    count_0 = UINT16_MAX;
    count_1 = UINT16_MAX;
}

/* Counts for all contacts at once: the fourth look that differs turns a contact over. */
static void look(uint16_t contacts) {
    const uint16_t differs = (uint16_t)((contacts ^ steady) & LOOKED_AT);
    count_0 = (uint16_t)~(count_0 & differs);
    count_1 = (uint16_t)(count_0 ^ (count_1 & differs));
    steady = (uint16_t)(steady ^ (differs & count_0 & count_1));
}

uint16_t panel_read(uint16_t contacts, uint32_t now_us) {
    /* A look every 128 us: doubled, the number of the look stands in a byte of its own, which needs no shift. */
    const uint8_t this_look = (uint8_t)((uint16_t)((uint16_t)now_us * 2u) >> 8);
    if (this_look != last_look) {
        last_look = this_look;
        look(contacts);
    }
    return (uint16_t)((contacts & (uint16_t)~LOOKED_AT) | steady);
}
