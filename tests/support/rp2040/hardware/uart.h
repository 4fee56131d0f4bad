#pragma once

#include "../pico.h"

typedef struct uart_inst uart_inst_t;
#define uart0 ((uart_inst_t *)0x40034000u)

#ifdef __cplusplus
extern "C" {
#endif
uint uart_init(uart_inst_t *uart, uint baudrate);
bool uart_is_readable(uart_inst_t *uart);
bool uart_is_writable(uart_inst_t *uart);
char uart_getc(uart_inst_t *uart);
void uart_putc_raw(uart_inst_t *uart, char c);
#ifdef __cplusplus
}
#endif
