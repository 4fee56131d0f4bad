/* The serial port of a board in real time, behind a pseudo terminal whose name is the first line that is printed. */
#ifndef PORT_H
#define PORT_H

#include "machine.h"

#define SLICE_US 1000 /* bytes cross between chip and port this often, at the least */

/* Bytes of an image behind the flash itself, of no meaning in the file. */
#define IMAGE_TAIL 4u

/* Returns the computer's clock. */
long long wall_us(void);

/* Makes a pseudo terminal, prints its name on a line, and opens both its ends; returns the far one. */
int open_ends(int *own);

/* Lets the bytes come in that were written at the far end of its port. */
void take_from_port(struct chip *chip);

/* Serves the machine as it stands, until whoever started this is gone. */
void serve_port(struct chip *chip);

/* Takes the flash from a file and keeps it there, with every byte that is written; starts at the bootloader. */
void load_image(struct chip *chip, const char *path, uint32_t boot_address);

/*
 * Serves it as a board: reset whenever the port is opened, until standard input ends. Orders there, a line each:
 *   off, on                the power goes, or comes
 *   after BYTES off        it goes once so many more bytes have come in
 *   after BYTES unplug     so does the port
 */
void serve_board(struct chip *chip);

#endif
