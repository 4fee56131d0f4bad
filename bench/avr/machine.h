/*
 * An AVR in a simulator, with its pins and the line to its serial port: what all that is done to it shares.
 *
 * There may be several; whoever makes one is told what its program does.
 */
#ifndef MACHINE_H
#define MACHINE_H

#include <simavr/sim_avr.h>
#include <stdbool.h>
#include <stdint.h>

#define CHIP_PORTS "ABCDEFGHJKL"
#define CHIP_WAITING 4096 /* a power of two */

struct chip;

/* Whom a chip tells what it does. */
struct witness {
    void (*pin)(struct chip *chip, char port, int bit, char level); /* driven to 0 or 1, or let go: z */
    void (*sent)(struct chip *chip, uint8_t byte);                  /* where no file takes its bytes */
    void (*reset)(struct chip *chip);
};

/* The pins of one port. */
struct port_pins {
    struct chip *chip;
    char name;
    uint8_t driven, high, shown_driven, shown_high; /* by the program; as last told */
    uint8_t external;                               /* levels from outside */
    bool there;
};

/* What stands in for a register that is stuck. */
struct stuck {
    avr_io_write_t write; /* what a write there would do */
    void *param;
    bool is;
};

struct chip {
    avr_t *avr;
    const struct witness *witness;
    /* Where its serial port leads, as an open file; -1: its witness is told each byte. */
    int port_file;
    /* What the far end of that port speaks, in baud; 0: whatever the program has set. */
    unsigned line_baud;
    bool halted;

    char uart;
    bool sends; /* its transmitter is on */
    struct port_pins ports[sizeof CHIP_PORTS - 1];
    uint16_t waiting[CHIP_WAITING]; /* with what is wrong with them, as the simulator takes it */
    unsigned waiting_head, waiting_tail;
    avr_cycle_count_t next_character;
    struct stuck stuck[MAX_IOs];
    struct {
        bool timed;
        unsigned mark; /* I/O address of the register that begins a pass; 0: the watchdog's kick does */
        unsigned long long count, longest, total;
        avr_cycle_count_t since;
        unsigned stack; /* bytes of it that were in use at the most */
    } passes;
};

/* Ends the process with a sentence. */
void fail(const char *what) __attribute__((noreturn));

/* Makes the machine, without a program in it. */
void machine_make(struct chip *chip, const char *mcu, uint32_t clock_hz, char uart_name,
                  const struct witness *witness);

/* Puts a program into it, from an ELF file. */
void machine_load(struct chip *chip, const char *path);

/* Connects its pins and its serial port, with the program in it, as at power-up. */
void machine_connect(struct chip *chip);

/* Puts a level at an input pin. */
void set_pin(struct chip *chip, char port, int bit, int level);

/* Lets a byte come in, after those that wait, with what is wrong with it as the simulator takes it. */
void queue_byte(struct chip *chip, uint16_t byte);

/* Returns whether one more byte can wait. */
bool queue_has_room(const struct chip *chip);

/* Forgets the bytes that wait. */
void queue_clear(struct chip *chip);

/* Runs up to a cycle, or until it is halted. Returns false where the program ran into nothing; a reset starts it again. */
bool run_until(struct chip *chip, avr_cycle_count_t cycle);

/* Ends the run behind the present instruction: for a witness. */
void halt(struct chip *chip);

/* Times passes from here on: from one OUT to that I/O address to the next, or one kick of the watchdog where it is 0. */
void passes_begin(struct chip *chip, unsigned mark);

/* Writes a register as a program would. */
void put_register(struct chip *chip, unsigned address, uint8_t value);

/* Resets it: by its pin, or as the supply does ("power", "brown-out"). */
void reset_for(struct chip *chip, const char *cause);

#endif
