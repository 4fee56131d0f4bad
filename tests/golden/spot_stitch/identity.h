/*
 * Who the board says it is, and whether settings.h still has the numbers of its design. Nothing to change here.
 *
 * spot_stitch, design 87d79af519c50507, made by wirecue 0.0.0.
 * Made from the design file: change that and build again, so that board, bench and papers keep agreeing.
 */

#ifndef IDENTITY_H
#define IDENTITY_H

#include "settings.h"

#define DESIGN_NAME "spot_stitch"
#define DESIGN_DIGEST "87d79af519c50507"
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
#define SUM_1 ADDED(SUM_0, GAS_VALVE_PIN)
#define SUM_2 ADDED(SUM_1, WIRE_DRIVE_PIN)
#define SUM_3 ADDED(SUM_2, CONTACTOR_PIN)
#define SUM_4 ADDED(SUM_3, LAMP_PIN)
#define SUM_5 ADDED(SUM_4, TRIGGER_PIN)
#define SUM_6 ADDED(SUM_5, PURGE_PIN)
#define SUM_7 ADDED(SUM_6, ARC_PIN)
#define SUM_8 ADDED(SUM_7, BENCH_LINK_PIN)
#define SUM_9 ADDED(SUM_8, SPOT_SWITCH_PIN)
#define SUM_10 ADDED(SUM_9, PAUSE_SWITCH_PIN)
#define SUM_11 ADDED(SUM_10, GAS_VALVE_ON_HIGH)
#define SUM_12 ADDED(SUM_11, WIRE_DRIVE_ON_HIGH)
#define SUM_13 ADDED(SUM_12, CONTACTOR_ON_HIGH)
#define SUM_14 ADDED(SUM_13, SPOT_CHANNEL)
#define SUM_15 ADDED(SUM_14, BURNBACK_CHANNEL)
#define SUM_16 ADDED(SUM_15, PAUSE_CHANNEL)
#define SUM_17 ADDED(SUM_16, SUPPLY_CHANNEL)
#define SUM_18 ADDED(SUM_17, PREFLOW_US)
#define SUM_19 ADDED(SUM_18, SPOT_LOW_US)
#define SUM_20 ADDED(SUM_19, SPOT_HIGH_US)
#define SUM_21 ADDED(SUM_20, BURNBACK_LOW_US)
#define SUM_22 ADDED(SUM_21, BURNBACK_HIGH_US)
#define SUM_23 ADDED(SUM_22, POSTFLOW_US)
#define SUM_24 ADDED(SUM_23, PAUSE_LOW_US)
#define SUM_25 ADDED(SUM_24, PAUSE_HIGH_US)
#define SUM_26 ADDED(SUM_25, WELD_LIMIT_US)
#define SUM_27 ADDED(SUM_26, ARC_START_LIMIT_US)
#define SUM_28 ADDED(SUM_27, CONTACTOR_OFF_DELAY_US)
#define SUM_29 ADDED(SUM_28, PURGE_LIMIT_US)
#define SUM_30 ADDED(SUM_29, TRIGGER_FILTER_US)
#define SUM_31 ADDED(SUM_30, PURGE_FILTER_US)
#define SUM_32 ADDED(SUM_31, ARC_FILTER_US)
#define SUM_33 ADDED(SUM_32, DIAL_FAULT_BELOW)
#define SUM_34 ADDED(SUM_33, DIAL_LOW_COUNTS)
#define SUM_35 ADDED(SUM_34, SUPPLY_LOW_COUNTS)
#define SUM_36 ADDED(SUM_35, SUPPLY_GOOD_COUNTS)
#define SUM_37 ADDED(SUM_36, SUPPLY_FILTER_US)

#if SUM_37 == 0xBBB13CAFu
#define DIGEST_ANSWERED DESIGN_DIGEST
#else
#define DIGEST_ANSWERED DESIGN_DIGEST "-edited"
#endif

#if GAS_VALVE_PIN == NOWHERE
#error "settings.h: GAS_VALVE_PIN may be PIN_OF(port, bit) with the chip's own port and bit, 0 to 7"
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
#if PURGE_PIN == NOWHERE
#error "settings.h: PURGE_PIN may be PIN_OF(port, bit) with the chip's own port and bit, 0 to 7"
#endif
#if ARC_PIN == NOWHERE
#error "settings.h: ARC_PIN may be PIN_OF(port, bit) with the chip's own port and bit, 0 to 7"
#endif
#if BENCH_LINK_PIN == NOWHERE
#error "settings.h: BENCH_LINK_PIN may be PIN_OF(port, bit) with the chip's own port and bit, 0 to 7"
#endif
#if SPOT_SWITCH_PIN == NOWHERE
#error "settings.h: SPOT_SWITCH_PIN may be PIN_OF(port, bit) with the chip's own port and bit, 0 to 7"
#endif
#if PAUSE_SWITCH_PIN == NOWHERE
#error "settings.h: PAUSE_SWITCH_PIN may be PIN_OF(port, bit) with the chip's own port and bit, 0 to 7"
#endif

/* Two roles on one pin: as numbers of one bit each, their sum is then not what all of them have together. */
#define LOW_BIT(pin) ((pin) < 64 ? 1ull << ((pin) % 64) : 0ull)
#define HIGH_BIT(pin) ((pin) < 64 ? 0ull : 1ull << ((pin) % 64))
#define LOW_BITS_SUM ( \
    LOW_BIT(GAS_VALVE_PIN) + \
    LOW_BIT(WIRE_DRIVE_PIN) + \
    LOW_BIT(CONTACTOR_PIN) + \
    LOW_BIT(LAMP_PIN) + \
    LOW_BIT(TRIGGER_PIN) + \
    LOW_BIT(PURGE_PIN) + \
    LOW_BIT(ARC_PIN) + \
    LOW_BIT(BENCH_LINK_PIN) + \
    LOW_BIT(SPOT_SWITCH_PIN) + \
    LOW_BIT(PAUSE_SWITCH_PIN))
#define LOW_BITS_ALL ( \
    LOW_BIT(GAS_VALVE_PIN) | \
    LOW_BIT(WIRE_DRIVE_PIN) | \
    LOW_BIT(CONTACTOR_PIN) | \
    LOW_BIT(LAMP_PIN) | \
    LOW_BIT(TRIGGER_PIN) | \
    LOW_BIT(PURGE_PIN) | \
    LOW_BIT(ARC_PIN) | \
    LOW_BIT(BENCH_LINK_PIN) | \
    LOW_BIT(SPOT_SWITCH_PIN) | \
    LOW_BIT(PAUSE_SWITCH_PIN))
#define HIGH_BITS_SUM ( \
    HIGH_BIT(GAS_VALVE_PIN) + \
    HIGH_BIT(WIRE_DRIVE_PIN) + \
    HIGH_BIT(CONTACTOR_PIN) + \
    HIGH_BIT(LAMP_PIN) + \
    HIGH_BIT(TRIGGER_PIN) + \
    HIGH_BIT(PURGE_PIN) + \
    HIGH_BIT(ARC_PIN) + \
    HIGH_BIT(BENCH_LINK_PIN) + \
    HIGH_BIT(SPOT_SWITCH_PIN) + \
    HIGH_BIT(PAUSE_SWITCH_PIN))
#define HIGH_BITS_ALL ( \
    HIGH_BIT(GAS_VALVE_PIN) | \
    HIGH_BIT(WIRE_DRIVE_PIN) | \
    HIGH_BIT(CONTACTOR_PIN) | \
    HIGH_BIT(LAMP_PIN) | \
    HIGH_BIT(TRIGGER_PIN) | \
    HIGH_BIT(PURGE_PIN) | \
    HIGH_BIT(ARC_PIN) | \
    HIGH_BIT(BENCH_LINK_PIN) | \
    HIGH_BIT(SPOT_SWITCH_PIN) | \
    HIGH_BIT(PAUSE_SWITCH_PIN))
#if LOW_BITS_SUM != LOW_BITS_ALL || HIGH_BITS_SUM != HIGH_BITS_ALL
#error "settings.h: two roles on one pin"
#endif

#endif
