/*
 * Who the board says it is, and whether settings.h still has the numbers of its design. Nothing to change here.
 *
 * gasless_four_step, design 05051989b288812e, made by wirecue 0.0.0.
 * Made from the design file: change that and build again, so that board, bench and papers keep agreeing.
 */

#ifndef IDENTITY_H
#define IDENTITY_H

#include "settings.h"

#define DESIGN_NAME "gasless_four_step"
#define DESIGN_DIGEST "05051989b288812e"
#define GENERATOR_VERSION "0.0.0"

/* Here a pin is a number; NOWHERE: one that no chip has. */
#define NOWHERE 1000
#define PORT_NUMBER_A 0
#define PORT_NUMBER_B 1
#define PORT_NUMBER_C 2
#define PORT_NUMBER_D 3
#define PORT_NUMBER_E 4
#define PORT_NUMBER_F 5
#define PORT_NUMBER_G 6
#define PORT_NUMBER_H 7
#define PORT_NUMBER_J 8
#define PORT_NUMBER_K 9
#define PORT_NUMBER_L 10
#define PIN_OF(port, bit) ((bit) < 8 ? PORT_NUMBER_##port * 8 + (bit) : NOWHERE)

/* Each number is multiplied by a power of an odd factor, modulo 2^32: whichever is changed by itself, the sum is
 * another. The compiler works it out; nothing of it is in the board. */
#define ADDED(sum, number) (((sum) * 0x9E3779B1u + (number)) & 0xFFFFFFFFu)
#define SUM_0 0u
#define SUM_1 ADDED(SUM_0, WIRE_DRIVE_PIN)
#define SUM_2 ADDED(SUM_1, CONTACTOR_PIN)
#define SUM_3 ADDED(SUM_2, LAMP_PIN)
#define SUM_4 ADDED(SUM_3, TRIGGER_PIN)
#define SUM_5 ADDED(SUM_4, INCH_PIN)
#define SUM_6 ADDED(SUM_5, INTERLOCK_PIN)
#define SUM_7 ADDED(SUM_6, FOUR_STEP_PIN)
#define SUM_8 ADDED(SUM_7, BENCH_LINK_PIN)
#define SUM_9 ADDED(SUM_8, WIRE_DRIVE_ON_HIGH)
#define SUM_10 ADDED(SUM_9, CONTACTOR_ON_HIGH)
#define SUM_11 ADDED(SUM_10, BURNBACK_CHANNEL)
#define SUM_12 ADDED(SUM_11, SUPPLY_CHANNEL)
#define SUM_13 ADDED(SUM_12, PREFLOW_US)
#define SUM_14 ADDED(SUM_13, BURNBACK_LOW_US)
#define SUM_15 ADDED(SUM_14, BURNBACK_HIGH_US)
#define SUM_16 ADDED(SUM_15, POSTFLOW_US)
#define SUM_17 ADDED(SUM_16, WELD_LIMIT_US)
#define SUM_18 ADDED(SUM_17, INCH_LIMIT_US)
#define SUM_19 ADDED(SUM_18, TRIGGER_FILTER_US)
#define SUM_20 ADDED(SUM_19, INCH_FILTER_US)
#define SUM_21 ADDED(SUM_20, DIAL_FAULT_BELOW)
#define SUM_22 ADDED(SUM_21, DIAL_LOW_COUNTS)
#define SUM_23 ADDED(SUM_22, SUPPLY_LOW_COUNTS)
#define SUM_24 ADDED(SUM_23, SUPPLY_GOOD_COUNTS)
#define SUM_25 ADDED(SUM_24, SUPPLY_FILTER_US)

#if SUM_25 == 0x7C404C8Cu
#define DIGEST_ANSWERED DESIGN_DIGEST
#else
#define DIGEST_ANSWERED DESIGN_DIGEST "-edited"
#endif

#if WIRE_DRIVE_PIN == NOWHERE
#error "settings.h: WIRE_DRIVE_PIN may be PIN_OF(port, bit) with the chip's own port and bit, 0 to 7"
#endif
#if CONTACTOR_PIN == NOWHERE
#error "settings.h: CONTACTOR_PIN may be PIN_OF(port, bit) with the chip's own port and bit, 0 to 7"
#endif
#if LAMP_PIN == NOWHERE
#error "settings.h: LAMP_PIN may be PIN_OF(port, bit) with the chip's own port and bit, 0 to 7"
#endif
#if TRIGGER_PIN == NOWHERE
#error "settings.h: TRIGGER_PIN may be PIN_OF(port, bit) with the chip's own port and bit, 0 to 7"
#endif
#if INCH_PIN == NOWHERE
#error "settings.h: INCH_PIN may be PIN_OF(port, bit) with the chip's own port and bit, 0 to 7"
#endif
#if INTERLOCK_PIN == NOWHERE
#error "settings.h: INTERLOCK_PIN may be PIN_OF(port, bit) with the chip's own port and bit, 0 to 7"
#endif
#if FOUR_STEP_PIN == NOWHERE
#error "settings.h: FOUR_STEP_PIN may be PIN_OF(port, bit) with the chip's own port and bit, 0 to 7"
#endif
#if BENCH_LINK_PIN == NOWHERE
#error "settings.h: BENCH_LINK_PIN may be PIN_OF(port, bit) with the chip's own port and bit, 0 to 7"
#endif

/* Two roles on one pin: as numbers of one bit each, their sum is then not what all of them have together. */
#define LOW_BIT(pin) ((pin) < 64 ? 1ull << ((pin) % 64) : 0ull)
#define HIGH_BIT(pin) ((pin) < 64 ? 0ull : 1ull << ((pin) % 64))
#define LOW_BITS_SUM ( \
    LOW_BIT(WIRE_DRIVE_PIN) + \
    LOW_BIT(CONTACTOR_PIN) + \
    LOW_BIT(LAMP_PIN) + \
    LOW_BIT(TRIGGER_PIN) + \
    LOW_BIT(INCH_PIN) + \
    LOW_BIT(INTERLOCK_PIN) + \
    LOW_BIT(FOUR_STEP_PIN) + \
    LOW_BIT(BENCH_LINK_PIN))
#define LOW_BITS_ALL ( \
    LOW_BIT(WIRE_DRIVE_PIN) | \
    LOW_BIT(CONTACTOR_PIN) | \
    LOW_BIT(LAMP_PIN) | \
    LOW_BIT(TRIGGER_PIN) | \
    LOW_BIT(INCH_PIN) | \
    LOW_BIT(INTERLOCK_PIN) | \
    LOW_BIT(FOUR_STEP_PIN) | \
    LOW_BIT(BENCH_LINK_PIN))
#define HIGH_BITS_SUM ( \
    HIGH_BIT(WIRE_DRIVE_PIN) + \
    HIGH_BIT(CONTACTOR_PIN) + \
    HIGH_BIT(LAMP_PIN) + \
    HIGH_BIT(TRIGGER_PIN) + \
    HIGH_BIT(INCH_PIN) + \
    HIGH_BIT(INTERLOCK_PIN) + \
    HIGH_BIT(FOUR_STEP_PIN) + \
    HIGH_BIT(BENCH_LINK_PIN))
#define HIGH_BITS_ALL ( \
    HIGH_BIT(WIRE_DRIVE_PIN) | \
    HIGH_BIT(CONTACTOR_PIN) | \
    HIGH_BIT(LAMP_PIN) | \
    HIGH_BIT(TRIGGER_PIN) | \
    HIGH_BIT(INCH_PIN) | \
    HIGH_BIT(INTERLOCK_PIN) | \
    HIGH_BIT(FOUR_STEP_PIN) | \
    HIGH_BIT(BENCH_LINK_PIN))
#if LOW_BITS_SUM != LOW_BITS_ALL || HIGH_BITS_SUM != HIGH_BITS_ALL
#error "settings.h: two roles on one pin"
#endif

#endif
