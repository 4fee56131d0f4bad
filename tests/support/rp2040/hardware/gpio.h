#pragma once

#include "../pico.h"

#ifdef __cplusplus
extern "C" {
#endif
enum gpio_function { GPIO_FUNC_UART = 2, GPIO_FUNC_SIO = 5, GPIO_FUNC_NULL = 0x1f };
enum gpio_drive_strength { GPIO_DRIVE_STRENGTH_4MA = 1, GPIO_DRIVE_STRENGTH_12MA = 3 };

void gpio_init(uint gpio);
void gpio_set_function(uint gpio, enum gpio_function function);
void gpio_set_dir(uint gpio, bool out);
void gpio_put(uint gpio, bool value);
bool gpio_get(uint gpio);
uint32_t gpio_get_all(void);
void gpio_pull_up(uint gpio);
void gpio_disable_pulls(uint gpio);
void gpio_set_input_enabled(uint gpio, bool enabled);
void gpio_set_drive_strength(uint gpio, enum gpio_drive_strength drive);
#ifdef __cplusplus
}
#endif
