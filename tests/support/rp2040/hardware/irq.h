#pragma once

#include "../pico.h"

typedef void (*irq_handler_t)(void);
#define PWM_IRQ_WRAP 4

#ifdef __cplusplus
extern "C" {
#endif
void irq_set_exclusive_handler(uint num, irq_handler_t handler);
void irq_set_enabled(uint num, bool enabled);
#ifdef __cplusplus
}
#endif
