#pragma once

#include "../../pico.h"

typedef struct {
    io_rw_32 vreg;
    io_rw_32 bod;
    io_rw_32 chip_reset;
} vreg_and_chip_reset_hw_t;
#define vreg_and_chip_reset_hw ((vreg_and_chip_reset_hw_t *)0x40064000u)
#define VREG_AND_CHIP_RESET_CHIP_RESET_HAD_RUN_BITS 0x00010000u
