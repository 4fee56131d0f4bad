/*
 * Hints for the compiler, which would otherwise decide by size alone. They change nothing but size and speed.
 *
 * spot_stitch, design 87d79af519c50507, made by wirecue 0.0.0.
 * Made from the design file: change that and build again, so that board, bench and papers keep agreeing.
 */

#ifndef COMPILER_H
#define COMPILER_H

#if defined(__GNUC__)
#define ONE_COPY __attribute__((noinline))         /* called from many places: keeps the program small */
#define QUICK inline __attribute__((always_inline)) /* decides the usual case: keeps a pass short */
#else
#define ONE_COPY
#define QUICK inline
#endif

#endif
