#pragma once

#include "../pico.h"

/* Armv6-M manual, B1.4.3: the mask register. */
static inline uint32_t save_and_disable_interrupts(void) {
    uint32_t status;
    __asm__ volatile("mrs %0, primask\n\tcpsid i" : "=r"(status)::"memory");
    return status;
}
static inline void restore_interrupts(uint32_t status) {
    __asm__ volatile("msr primask, %0" ::"r"(status) : "memory");
}
