#pragma once

#include "../pico.h"

typedef struct {
    io_rw_32 cs;
    io_rw_32 result;
} adc_hw_t;
#define adc_hw ((adc_hw_t *)0x4004c000u)
#define ADC_CS_EN_BITS 0x00000001u
#define ADC_CS_START_ONCE_BITS 0x00000004u
#define ADC_CS_READY_BITS 0x00000100u
#define ADC_CS_AINSEL_BITS 0x00007000u
#define ADC_CS_AINSEL_LSB 12u

#ifdef __cplusplus
extern "C" {
#endif
void adc_init(void);
void adc_gpio_init(uint gpio);
void adc_select_input(uint input);
#ifdef __cplusplus
}
#endif
