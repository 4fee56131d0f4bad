/* The serial port of a board in real time, behind a pseudo terminal. */
#include "port.h"

#include <fcntl.h>
#include <poll.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/stat.h>
#include <termios.h>
#include <time.h>
#include <unistd.h>


long long wall_us(void) {
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return now.tv_sec * 1000000LL + now.tv_nsec / 1000;
}

int open_ends(int *own) {
    *own = posix_openpt(O_RDWR | O_NOCTTY | O_NONBLOCK);
    if (*own < 0 || grantpt(*own) != 0 || unlockpt(*own) != 0) {
        fail("cannot make a serial port");
    }
    const int far = open(ptsname(*own), O_RDWR | O_NOCTTY);
    struct termios mode;
    if (far < 0 || tcgetattr(far, &mode) != 0) {
        fail("cannot open the serial port");
    }
    cfmakeraw(&mode);
    tcsetattr(far, TCSANOW, &mode);
    printf("%s\n", ptsname(*own));
    fflush(stdout);
    return far;
}

static avr_cycle_count_t cycles_a_us(const avr_t *avr) {
    return avr->frequency / 1000000;
}

/* Waits until as much time has gone by as the chip has run since the beginning. */
static void keep_pace(const avr_t *avr, avr_cycle_count_t ran, long long start_us) {
    const long long ahead_us = (long long)(ran / cycles_a_us(avr)) - (wall_us() - start_us);
    if (ahead_us > 0) {
        usleep((useconds_t)ahead_us);
    }
}

void take_from_port(struct chip *chip) {
    uint8_t byte;
    while (queue_has_room(chip) && read(chip->port_file, &byte, 1) == 1) {
        queue_byte(chip, byte);
    }
}

void serve_port(struct chip *chip) {
    /* The far end stays open here, so that clients may come and go. */
    (void)open_ends(&chip->port_file);
    if (freopen("/dev/null", "w", stdout) == NULL) { /* nobody reads events from here on */
        fail("cannot be quiet");
    }
    const long long start_us = wall_us();
    const avr_cycle_count_t start = chip->avr->cycle;
    const avr_cycle_count_t slice = cycles_a_us(chip->avr) * SLICE_US;
    for (avr_cycle_count_t cycle = start;; cycle += slice) {
        take_from_port(chip);
        if (!run_until(chip, cycle + slice)) {
            fail("the program crashed");
        }
        keep_pace(chip->avr, cycle - start, start_us);
        if (getppid() == 1) {
            return; /* whoever started this is gone */
        }
    }
}

/* ---- A whole board: flash that is kept, a bootloader, a reset whenever somebody opens the port ---- */

void load_image(struct chip *chip, const char *path, uint32_t boot_address) {
    avr_t *avr = chip->avr;
    const int file = open(path, O_RDWR);
    struct stat facts;
    const size_t size = avr->flashend + 1u;
    if (file < 0 || fstat(file, &facts) != 0 || (size_t)facts.st_size != size + IMAGE_TAIL) {
        fail("the image of the flash is not there, or not as large as the chip's");
    }
    uint8_t *flash = mmap(NULL, size + IMAGE_TAIL, PROT_READ | PROT_WRITE, MAP_SHARED, file, 0);
    if (flash == MAP_FAILED) {
        fail("the image of the flash cannot be mapped");
    }
    /* The tail is the simulator's own: it ends a program that runs over the end of the flash. */
    memcpy(flash + size, avr->flash + size, IMAGE_TAIL);
    avr->flash = flash; /* what stood there goes with the process */
    avr->codeend = avr->flashend;
    avr->reset_pc = boot_address;
    avr->pc = boot_address;
}

static struct {
    struct chip *chip;
    bool powered, here; /* the chip has power; somebody has the port open */
    bool stuck;         /* the program ran into nothing: a reset starts it again */
    long lost_after;    /* bytes until the power goes; negative: it stays */
    bool unplugged;     /* with the power goes the port */
} board = {.powered = true, .lost_after = -1};

static void power(bool on) {
    board.powered = on;
    queue_clear(board.chip);
    reset_for(board.chip, "power"); /* pins let go, memory lost, either way */
    board.stuck = false;
}

/* What is asked of the board while it serves, a line each. False: no more. */
static bool obey(const char *line) {
    char how[16] = "";
    if (strcmp(line, "off\n") == 0) {
        power(false);
    } else if (strcmp(line, "on\n") == 0) {
        power(true);
    } else if (sscanf(line, "after %ld %15s", &board.lost_after, how) == 2) {
        board.unplugged = strcmp(how, "unplug") == 0;
    } else {
        return false;
    }
    return true;
}

static bool obey_all(void) {
    static char line[80];
    static size_t length;
    struct pollfd asked = {.fd = STDIN_FILENO, .events = POLLIN};
    while (poll(&asked, 1, 0) > 0) {
        if (read(STDIN_FILENO, &line[length], 1) != 1) {
            return false; /* whoever started this is gone */
        }
        if (line[length++] == '\n' || length == sizeof line - 1) {
            line[length] = '\0';
            length = 0;
            if (!obey(line)) {
                fail("an unknown order");
            }
        }
    }
    return true;
}

/* What was sent to whoever had the port before is not for whoever has it now. */
static void forget_answers(void) {
    const int far = open(ptsname(board.chip->port_file), O_RDWR | O_NOCTTY);
    if (far >= 0) {
        tcflush(far, TCIFLUSH);
        close(far);
    }
}

/* Returns what the far end speaks, in baud. */
static unsigned spoken_baud(void) {
    struct termios mode;
    if (tcgetattr(board.chip->port_file, &mode) != 0) {
        return 0;
    }
    return cfgetospeed(&mode) == B57600 ? 57600 : cfgetospeed(&mode) == B115200 ? 115200 : 9600;
}

/* Sees whether the port is open at the far end; a board of this kind is reset by that. A port that is closed and opened
 * between two looks is known by another speed alone. */
static void look_for_host(void) {
    struct chip *chip = board.chip;
    struct pollfd port = {.fd = chip->port_file, .events = POLLIN};
    const bool here = poll(&port, 1, 0) >= 0 && !(port.revents & POLLHUP);
    const unsigned baud = here ? spoken_baud() : chip->line_baud;
    if (here && (!board.here || baud != chip->line_baud)) {
        forget_answers();
        queue_clear(chip);
        if (board.powered) {
            reset_for(chip, "");
            board.stuck = false;
        }
    }
    board.here = here;
    chip->line_baud = baud;
}

static void take_bytes(void) {
    uint8_t byte;
    while (queue_has_room(board.chip) && read(board.chip->port_file, &byte, 1) == 1) {
        if (board.powered) {
            queue_byte(board.chip, byte);
        }
        if (board.lost_after >= 0 && board.lost_after-- == 0) {
            if (board.unplugged) {
                exit(0);
            }
            power(false);
        }
    }
}

void serve_board(struct chip *chip) {
    int own;
    board.chip = chip;
    close(open_ends(&own));
    const long long start_us = wall_us();
    const avr_cycle_count_t slice = cycles_a_us(chip->avr) * SLICE_US;
    for (avr_cycle_count_t ran = 0; obey_all(); ran += slice) {
        chip->port_file = own;
        look_for_host();
        take_bytes();
        if (!board.here) {
            chip->port_file = open("/dev/null", O_WRONLY | O_CLOEXEC); /* what is sent to nobody is lost */
        }
        if (board.powered && !board.stuck) {
            board.stuck = !run_until(chip, chip->avr->cycle + slice);
        }
        if (chip->port_file != own) {
            close(chip->port_file);
        }
        fflush(stdout);
        keep_pace(chip->avr, ran, start_us);
    }
}
