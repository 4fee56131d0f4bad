/*
 * The filter between a contact and the sequence. Portable C99.
 *
 * spot_stitch, design 87d79af519c50507, made by wirecue 0.0.0.
 * Made from the design file: change that and build again, so that board, bench and papers keep agreeing.
 */

#ifndef FILTER_H
#define FILTER_H

#include <stdbool.h>
#include <stdint.h>

#include "compiler.h"

#ifdef __cplusplus
extern "C" {
#endif

typedef struct {
    uint32_t first_closed_us;
    uint32_t last_closed_us;
    bool counting; /* from the first closed reading until the contact counts as open again */
    bool closed;   /* the contact after the filter */
} contact_filter;

/* Takes one reading while something is going on; see filter_read. */
ONE_COPY bool filter_move(contact_filter *contact, bool raw_closed, uint32_t filter_us, uint32_t bridge_us, uint32_t now_us);

/*
 * Takes one reading of a contact; returns it as it counts: closed once it was closed for filter_us, open once it was
 * open for filter_us. On the way to closed a gap shorter than bridge_us does not count as a break; 0 for a dc contact.
 * A contact that stays as it counts is decided here: that is nearly every pass.
 */
static QUICK bool filter_read(contact_filter *contact, bool raw_closed, uint32_t filter_us, uint32_t bridge_us,
                              uint32_t now_us) {
    if (!raw_closed && !contact->counting) {
        return false;
    }
    if (raw_closed && contact->closed) {
        contact->last_closed_us = now_us;
        return true;
    }
    return filter_move(contact, raw_closed, filter_us, bridge_us, now_us);
}

#ifdef __cplusplus
}
#endif

#endif
