#pragma once

#include "../pico.h"

typedef struct uart_inst uart_inst_t;
#define uart0 ((uart_inst_t *)0x40034000u)

/* Data register, section 4.2.8 */
typedef struct {
    volatile uint32_t dr;
} uart_hw_t;
#define UART_UARTDR_DATA_BITS 0xffu
#define UART_UARTDR_FE_BITS 0x100u
#define UART_UARTDR_BE_BITS 0x400u
#define UART_UARTDR_OE_BITS 0x800u

static inline uart_hw_t *uart_get_hw(uart_inst_t *uart) {
    return (uart_hw_t *)uart;
}

#ifdef __cplusplus
extern "C" {
#endif
uint uart_init(uart_inst_t *uart, uint baudrate);
bool uart_is_readable(uart_inst_t *uart);
bool uart_is_writable(uart_inst_t *uart);
void uart_putc_raw(uart_inst_t *uart, char c);
#ifdef __cplusplus
}
#endif
