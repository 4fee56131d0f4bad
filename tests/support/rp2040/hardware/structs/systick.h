#pragma once

#include "../../pico.h"

typedef struct {
    io_rw_32 csr;
    io_rw_32 rvr;
    io_rw_32 cvr;
} systick_hw_t;
#define systick_hw ((systick_hw_t *)0xe000e010u)
