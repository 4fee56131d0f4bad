#pragma once

#include "../pico.h"

typedef struct {
    io_rw_32 ctrl;
    io_rw_32 load;
    io_rw_32 reason;
    io_rw_32 scratch[8];
    io_rw_32 tick;
} watchdog_hw_t;
#define watchdog_hw ((watchdog_hw_t *)0x40058000u)
#define WATCHDOG_CTRL_TRIGGER_BITS 0x80000000u

#ifdef __cplusplus
extern "C" {
#endif
void watchdog_enable(uint32_t delay_ms, bool pause_on_debug);
void watchdog_update(void);
bool watchdog_caused_reboot(void);
bool watchdog_enable_caused_reboot(void);
#ifdef __cplusplus
}
#endif
