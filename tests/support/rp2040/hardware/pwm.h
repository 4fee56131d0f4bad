#pragma once

#include "../pico.h"

#ifdef __cplusplus
extern "C" {
#endif
void pwm_set_wrap(uint slice_num, uint16_t wrap);
void pwm_set_enabled(uint slice_num, bool enabled);
void pwm_set_irq_enabled(uint slice_num, bool enabled);
void pwm_clear_irq(uint slice_num);
#ifdef __cplusplus
}
#endif
