/*
 * The filter between a contact and the sequence.
 *
 * spot_stitch, design 87d79af519c50507, made by wirecue 0.0.0.
 * Made from the design file: change that and build again, so that board, bench and papers keep agreeing.
 */

#include "filter.h"

bool filter_move(contact_filter *contact, bool raw_closed, uint32_t filter_us, uint32_t bridge_us, uint32_t now_us) {
    if (raw_closed) {
        if (!contact->counting) {
            contact->counting = true;
            contact->first_closed_us = now_us;
        }
        contact->last_closed_us = now_us;
        contact->closed = (uint32_t)(now_us - contact->first_closed_us) >= filter_us;
    } else {
        const uint32_t patience_us = contact->closed ? filter_us : bridge_us;
        if ((uint32_t)(now_us - contact->last_closed_us) >= patience_us) {
            contact->counting = false;
            contact->closed = false;
        }
    }
    return contact->closed;
}
