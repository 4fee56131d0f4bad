/* Of the chip's software kit: what its headers below share. Signatures and names as in its published headers. */
#pragma once

#include <stdbool.h>
#include <stdint.h>

typedef unsigned int uint;
typedef volatile uint32_t io_rw_32;

#define REGISTER(address) (*(io_rw_32 *)(address))
/* Every peripheral register has aliases that set or clear the bits written (data sheet, 2.1.2). */
static inline void hw_set_bits(io_rw_32 *address, uint32_t mask) {
    REGISTER((uintptr_t)address + 0x2000u) = mask;
}
static inline void hw_clear_bits(io_rw_32 *address, uint32_t mask) {
    REGISTER((uintptr_t)address + 0x3000u) = mask;
}
