/* The serial port of a board in real time, behind a pseudo terminal whose name is the first line that is printed. */
#ifndef PORT_H
#define PORT_H

#include <stdint.h>

/* Bytes of an image behind the flash itself, of no meaning in the file. */
#define IMAGE_TAIL 4u

/* Serves the machine as it stands, until whoever started this is gone. */
void serve_port(void);

/* Takes the flash from a file and keeps it there, with every byte that is written; starts at the bootloader. */
void load_image(const char *path, uint32_t boot_address);

/*
 * Serves it as a board: reset whenever the port is opened, until standard input ends. Orders there, a line each:
 *   off, on                the power goes, or comes
 *   after BYTES off        it goes once so many more bytes have come in
 *   after BYTES unplug     so does the port
 */
void serve_board(void);

#endif
