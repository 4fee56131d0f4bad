/*
 * The serial link: IEEE 488.2 and SCPI-style commands. Portable C99.
 *
 * spot_stitch, design 87d79af519c50507, made by wirecue 0.0.0.
 * Made from the design file: change that and build again, so that board, bench and papers keep agreeing.
 */

#ifndef LINK_H
#define LINK_H

#include <stdbool.h>
#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

/* Starts the link; jumper_fitted: whether commands that could move an output are taken. */
void link_start(bool jumper_fitted);

/*
 * Does one small piece of the link's work: takes one character, or compares one header, or reads one character of a
 * parameter, or sends one character where there is room. A pass never gets longer by more than that.
 */
void link_step(uint32_t now_us);

#ifdef __cplusplus
}
#endif

#endif
