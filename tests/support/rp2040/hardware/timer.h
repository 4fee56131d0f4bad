#pragma once

#include "../pico.h"

#ifdef __cplusplus
extern "C" {
#endif
uint32_t time_us_32(void);
void busy_wait_us_32(uint32_t delay_us);
#ifdef __cplusplus
}
#endif
