/*
 * Constants that stay in flash: on AVR they need their own way of reading.
 *
 * spot_stitch, design 87d79af519c50507, made by wirecue 0.0.0.
 * Made from the design file: change that and build again, so that board, bench and papers keep agreeing.
 */

#ifndef FLASH_H
#define FLASH_H

#include <stdint.h>

#if defined(__AVR__)
#include <avr/pgmspace.h>
#define IN_FLASH PROGMEM
#define FLASH_CHAR(address) ((char)pgm_read_byte(address))
#define FLASH_BYTE(address) ((uint8_t)pgm_read_byte(address))
#define FLASH_DWORD(address) ((uint32_t)pgm_read_dword(address))
#define FLASH_TEXT(address) ((const char *)pgm_read_ptr(address))
#else
#define IN_FLASH
#define FLASH_CHAR(address) (*(address))
#define FLASH_BYTE(address) (*(address))
#define FLASH_DWORD(address) (*(address))
#define FLASH_TEXT(address) (*(address))
#endif

#endif
