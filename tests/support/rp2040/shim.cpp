/*
 * Stand-ins for the functions of the chip's software kit that the sketch calls, on the registers of the chip's
 * published data sheet (section numbers below are of that); and the way from reset to setup() and loop().
 * They serve a simulator that starts with its clocks running. A real board's sketch is built with the board's core.
 */
#include <Arduino.h>
#include <hardware/adc.h>
#include <hardware/clocks.h>
#include <hardware/gpio.h>
#include <hardware/irq.h>
#include <hardware/pwm.h>
#include <hardware/timer.h>
#include <hardware/uart.h>
#include <hardware/watchdog.h>

#define PERIPHERAL_HZ 125000000u

/* ---- Pins: IO_BANK0 (2.19.6.1), PADS_BANK0 (2.19.6.3), SIO (2.3.1.7) ---- */

#define FUNCTION_OF(gpio) REGISTER(0x40014004u + 8u * (gpio))
#define PAD_OF(gpio) REGISTER(0x4001c004u + 4u * (gpio))
#define PAD_PULL_DOWN (1u << 2)
#define PAD_PULL_UP (1u << 3)
#define PAD_DRIVE_LSB 4u
#define PAD_DRIVE (3u << PAD_DRIVE_LSB)
#define PAD_INPUT_ENABLE (1u << 6)
#define PAD_OUTPUT_DISABLE (1u << 7)
#define SIO_IN REGISTER(0xd0000004u)
#define SIO_OUT_SET REGISTER(0xd0000014u)
#define SIO_OUT_CLEAR REGISTER(0xd0000018u)
#define SIO_DIRECTION_SET REGISTER(0xd0000024u)
#define SIO_DIRECTION_CLEAR REGISTER(0xd0000028u)

void gpio_set_function(uint gpio, enum gpio_function function) {
    PAD_OF(gpio) = (PAD_OF(gpio) & ~PAD_OUTPUT_DISABLE) | PAD_INPUT_ENABLE;
    FUNCTION_OF(gpio) = function;
}

void gpio_init(uint gpio) {
    gpio_set_dir(gpio, false);
    gpio_put(gpio, false);
    gpio_set_function(gpio, GPIO_FUNC_SIO);
}

void gpio_set_dir(uint gpio, bool out) {
    (out ? SIO_DIRECTION_SET : SIO_DIRECTION_CLEAR) = 1u << gpio;
}

void gpio_put(uint gpio, bool value) {
    (value ? SIO_OUT_SET : SIO_OUT_CLEAR) = 1u << gpio;
}

bool gpio_get(uint gpio) {
    return (SIO_IN & (1u << gpio)) != 0;
}

uint32_t gpio_get_all(void) {
    return SIO_IN;
}

void gpio_pull_up(uint gpio) {
    PAD_OF(gpio) = (PAD_OF(gpio) & ~PAD_PULL_DOWN) | PAD_PULL_UP;
}

void gpio_disable_pulls(uint gpio) {
    PAD_OF(gpio) &= ~(PAD_PULL_DOWN | PAD_PULL_UP);
}

void gpio_set_input_enabled(uint gpio, bool enabled) {
    PAD_OF(gpio) = (PAD_OF(gpio) & ~PAD_INPUT_ENABLE) | (enabled ? PAD_INPUT_ENABLE : 0u);
}

void gpio_set_drive_strength(uint gpio, enum gpio_drive_strength drive) {
    PAD_OF(gpio) = (PAD_OF(gpio) & ~PAD_DRIVE) | ((uint32_t)drive << PAD_DRIVE_LSB);
}

/* ---- Converter (4.9.6) ---- */

void adc_init(void) {
    adc_hw->cs = ADC_CS_EN_BITS;
    while ((adc_hw->cs & ADC_CS_READY_BITS) == 0) {
    }
}

void adc_gpio_init(uint gpio) {
    gpio_set_function(gpio, GPIO_FUNC_NULL);
    gpio_disable_pulls(gpio);
    gpio_set_input_enabled(gpio, false);
}

void adc_select_input(uint input) {
    adc_hw->cs = (adc_hw->cs & ~ADC_CS_AINSEL_BITS) | (input << ADC_CS_AINSEL_LSB);
}

/* ---- PWM (4.5.3) and its interrupt (Armv6-M manual, B3.4) ---- */

#define PWM_CONTROL_OF(slice) REGISTER(0x40050000u + 0x14u * (slice))
#define PWM_TOP_OF(slice) REGISTER(0x40050010u + 0x14u * (slice))
#define PWM_RAISED REGISTER(0x400500a4u)
#define PWM_ASKED REGISTER(0x400500a8u)
#define PWM_ON 1u
#define INTERRUPTS_ON REGISTER(0xe000e100u)
#define INTERRUPTS_OFF REGISTER(0xe000e180u)

static irq_handler_t at_pwm_wrap;

void pwm_set_wrap(uint slice_num, uint16_t wrap) {
    PWM_TOP_OF(slice_num) = wrap;
}

void pwm_set_enabled(uint slice_num, bool enabled) {
    PWM_CONTROL_OF(slice_num) = enabled ? PWM_ON : 0u;
}

void pwm_set_irq_enabled(uint slice_num, bool enabled) {
    PWM_ASKED = (PWM_ASKED & ~(1u << slice_num)) | ((enabled ? 1u : 0u) << slice_num);
}

void pwm_clear_irq(uint slice_num) {
    PWM_RAISED = 1u << slice_num;
}

void irq_set_exclusive_handler(uint, irq_handler_t handler) {
    at_pwm_wrap = handler;
}

void irq_set_enabled(uint num, bool enabled) {
    (enabled ? INTERRUPTS_ON : INTERRUPTS_OFF) = 1u << num;
}

/* ---- Clock (4.6.5): the running timer's lower word ---- */

uint32_t time_us_32(void) {
    return REGISTER(0x40054028u);
}

void busy_wait_us_32(uint32_t delay_us) {
    const uint32_t from_us = time_us_32();
    while (time_us_32() - from_us < delay_us) {
    }
}

/* ---- Watchdog (4.7.6): the first chips count it down twice a microsecond ---- */

#define WATCHDOG_ENABLE (1u << 30)
#define ENABLED_MAGIC 0x6ab73121u /* in scratch 4, as the software kit has it: enabled, not asked for a reboot */
static uint32_t watchdog_load;

void watchdog_enable(uint32_t delay_ms, bool pause_on_debug) {
    (void)pause_on_debug;
    watchdog_load = 2000u * delay_ms;
    watchdog_hw->scratch[4] = ENABLED_MAGIC;
    watchdog_update();
    watchdog_hw->ctrl = WATCHDOG_ENABLE;
}

void watchdog_update(void) {
    watchdog_hw->load = watchdog_load;
}

bool watchdog_caused_reboot(void) {
    return watchdog_hw->reason != 0;
}

bool watchdog_enable_caused_reboot(void) {
    return watchdog_caused_reboot() && watchdog_hw->scratch[4] == ENABLED_MAGIC;
}

/* ---- The core's clock: a simulator starts with it running ---- */

uint32_t clock_get_hz(enum clock_index clock) {
    (void)clock;
    return PERIPHERAL_HZ;
}

/* ---- Serial port (4.2.8) ---- */

#define UART_DATA REGISTER(0x40034000u)
#define UART_FLAGS REGISTER(0x40034018u)
#define UART_DIVIDER REGISTER(0x40034024u)
#define UART_DIVIDER_FRACTION REGISTER(0x40034028u)
#define UART_LINE REGISTER(0x4003402cu)
#define UART_CONTROL REGISTER(0x40034030u)
#define RECEIVE_EMPTY (1u << 4)
#define TRANSMIT_FULL (1u << 5)
#define EIGHT_BITS_FIFO 0x70u
#define ON_BOTH_WAYS 0x301u

uint uart_init(uart_inst_t *, uint baudrate) {
    const uint32_t divider = 8u * PERIPHERAL_HZ / baudrate; /* in 128ths */
    UART_DIVIDER = divider >> 7;
    UART_DIVIDER_FRACTION = ((divider & 0x7fu) + 1u) / 2u;
    UART_LINE = EIGHT_BITS_FIFO;
    UART_CONTROL = ON_BOTH_WAYS;
    return baudrate;
}

bool uart_is_readable(uart_inst_t *) {
    return (UART_FLAGS & RECEIVE_EMPTY) == 0;
}

bool uart_is_writable(uart_inst_t *) {
    return (UART_FLAGS & TRANSMIT_FULL) == 0;
}

void uart_putc_raw(uart_inst_t *, char c) {
    UART_DATA = (uint8_t)c;
}

/* ---- USB: nobody is there ---- */

SerialUSB Serial;
void SerialUSB::begin(unsigned long) {
}
int SerialUSB::available() {
    return 0;
}
int SerialUSB::read() {
    return -1;
}
int SerialUSB::availableForWrite() {
    return 0;
}
size_t SerialUSB::write(uint8_t) {
    return 0;
}

/* ---- From reset to the sketch ---- */

extern "C" {
extern uint32_t data_in_flash, data_begin, data_end, bss_begin, bss_end, stack_top;

[[noreturn]] void reset_handler(void) {
    const uint32_t *from = &data_in_flash;
    for (uint32_t *to = &data_begin; to < &data_end; to++, from++) {
        *to = *from;
    }
    for (uint32_t *to = &bss_begin; to < &bss_end; to++) {
        *to = 0;
    }
    setup();
    for (;;) {
        loop();
    }
}

static void pwm_wrapped(void) {
    at_pwm_wrap();
}

/* What the core finds at the bottom of flash: first stack, first instruction, and where it goes at an interrupt
 * (Armv6-M manual, B1.5.3). */
#define INTERRUPTS_FROM 16
extern const uintptr_t vectors[INTERRUPTS_FROM + PWM_IRQ_WRAP + 1];
__attribute__((section(".vectors"), used)) const uintptr_t vectors[INTERRUPTS_FROM + PWM_IRQ_WRAP + 1] = {
    reinterpret_cast<uintptr_t>(&stack_top), reinterpret_cast<uintptr_t>(&reset_handler),
    0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0, 0,
    0, 0, 0, 0, reinterpret_cast<uintptr_t>(&pwm_wrapped)};
}
