#pragma once

#include "../pico.h"

#ifdef __cplusplus
extern "C" {
#endif
void watchdog_enable(uint32_t delay_ms, bool pause_on_debug);
void watchdog_update(void);
#ifdef __cplusplus
}
#endif
