/*
 * Error queue and status registers of the serial link.
 *
 * gasless_four_step, design 05051989b288812e, made by wirecue 0.0.0.
 * Made from the design file: change that and build again, so that board, bench and papers keep agreeing.
 */

#include "link_status.h"

#include "flash.h"
#include "link_commands.h"

#define QUEUE_LENGTH 4u

/* Bits of the status byte. There is no message-available bit on this link. */
#define STATUS_ERROR_QUEUE 4u
#define STATUS_EVENT_SUMMARY 32u
#define STATUS_MASTER_SUMMARY 64u
#define STATUS_OPERATION 128u
#define STATUS_QUESTIONABLE 8u

/* Bit 15 of a register is never used. */
#define REGISTER_BITS 0x7FFFu

static const char text_NONE[] IN_FLASH = "0,\"No error\"";
static const char text_SYNTAX[] IN_FLASH = "-102,\"Syntax error\"";
static const char text_DATA_TYPE[] IN_FLASH = "-104,\"Data type error\"";
static const char text_PARAMETER_NOT_ALLOWED[] IN_FLASH = "-108,\"Parameter not allowed\"";
static const char text_MISSING_PARAMETER[] IN_FLASH = "-109,\"Missing parameter\"";
static const char text_UNDEFINED_HEADER[] IN_FLASH = "-113,\"Undefined header\"";
static const char text_PROTECTED[] IN_FLASH = "-203,\"Command protected\"";
static const char text_OUT_OF_RANGE[] IN_FLASH = "-222,\"Data out of range\"";
static const char text_TOO_MUCH_DATA[] IN_FLASH = "-223,\"Too much data\"";
static const char text_QUEUE_OVERFLOW[] IN_FLASH = "-350,\"Queue overflow\"";
static const char text_FRAMING[] IN_FLASH = "-362,\"Framing error in program message\"";
static const char text_OVERRUN[] IN_FLASH = "-363,\"Input buffer overrun\"";

static const char *const texts[] IN_FLASH = {
    text_NONE,
    text_SYNTAX,
    text_DATA_TYPE,
    text_PARAMETER_NOT_ALLOWED,
    text_MISSING_PARAMETER,
    text_UNDEFINED_HEADER,
    text_PROTECTED,
    text_OUT_OF_RANGE,
    text_TOO_MUCH_DATA,
    text_QUEUE_OVERFLOW,
    text_FRAMING,
    text_OVERRUN
};

static const uint8_t events_of[] IN_FLASH = {
    0,
    EVENT_COMMAND_ERROR, /* -102: a line that is no command */
    EVENT_COMMAND_ERROR, /* -104: a parameter that is no number */
    EVENT_COMMAND_ERROR, /* -108: a parameter too many */
    EVENT_COMMAND_ERROR, /* -109: a parameter too few */
    EVENT_COMMAND_ERROR, /* -113: a command that is not known */
    EVENT_EXECUTION_ERROR, /* -203: the bench link is not fitted */
    EVENT_EXECUTION_ERROR, /* -222: a number outside what the command takes */
    EVENT_EXECUTION_ERROR, /* -223: a line longer than the board keeps */
    EVENT_DEVICE_ERROR, /* -350: more errors than the queue keeps */
    EVENT_DEVICE_ERROR, /* -362: a character without its stop bit */
    EVENT_DEVICE_ERROR /* -363: characters came faster than the board takes them */
};

static uint8_t queue[QUEUE_LENGTH];
static uint8_t queued;
static uint8_t events;
static uint8_t event_enable;
static uint8_t service_enable;
static uint8_t conditions; /* as the latest pass found them */
static uint8_t begun;      /* of them, not yet asked for */
static uint16_t enables[ENABLE_COUNT];

void status_start(void) {
    status_clear();
    status_preset();
    conditions = 0;
    events = EVENT_POWER_ON;
    event_enable = 0;
    service_enable = 0;
}

void status_error(uint8_t error) {
    status_event(FLASH_BYTE(&events_of[error]));
    if (queued < QUEUE_LENGTH) {
        queue[queued] = error;
        queued++;
        return;
    }
    queue[QUEUE_LENGTH - 1u] = ERROR_QUEUE_OVERFLOW;
    status_event(FLASH_BYTE(&events_of[ERROR_QUEUE_OVERFLOW]));
}

const char *status_next_error(void) {
    uint8_t error = ERROR_NONE;
    if (queued > 0) {
        error = queue[0];
        queued--;
        for (uint8_t index = 0; index < queued; index++) {
            queue[index] = queue[index + 1u];
        }
    }
    return FLASH_TEXT(&texts[error]);
}

void status_clear(void) {
    queued = 0;
    events = 0;
    begun = 0;
}

void status_event(uint8_t bits) {
    events = (uint8_t)(events | bits);
}

uint8_t status_take_events(void) {
    const uint8_t taken = events;
    events = 0;
    return taken;
}

uint8_t status_event_enable(void) {
    return event_enable;
}

void status_set_event_enable(uint8_t bits) {
    event_enable = bits;
}

uint8_t status_service_enable(void) {
    return service_enable;
}

void status_set_service_enable(uint8_t bits) {
    service_enable = (uint8_t)(bits & ~STATUS_MASTER_SUMMARY);
}

void status_watch(uint8_t now) {
    begun = (uint8_t)(begun | (now & (uint8_t)~conditions));
    conditions = now;
}

/* What the register shows of kept bits. */
static uint16_t operation_of(uint8_t kept) {
    uint16_t shown = 0;
    if ((kept & CONDITION_HOLD_OFF) != 0) {
        shown |= 256u;
    }
    if ((kept & CONDITION_SEQUENCE) != 0) {
        shown |= 512u;
    }
    if ((kept & CONDITION_FORCED) != 0) {
        shown |= 1024u;
    }
    return shown;
}

uint16_t status_operation_condition(void) {
    return operation_of(conditions);
}

uint16_t status_take_operation(void) {
    const uint16_t taken = operation_of(begun);
    begun = (uint8_t)(begun & (uint8_t)~(CONDITION_HOLD_OFF | CONDITION_SEQUENCE | CONDITION_FORCED));
    return taken;
}

/* What the register shows of kept bits. */
static uint16_t questionable_of(uint8_t kept) {
    uint16_t shown = 0;
    if ((kept & CONDITION_SUPPLY_LOW) != 0) {
        shown |= 1u;
    }
    if ((kept & CONDITION_DIAL_FAULT) != 0) {
        shown |= 4u;
    }
    if ((kept & CONDITION_INTERLOCK_OPEN) != 0) {
        shown |= 512u;
    }
    return shown;
}

uint16_t status_questionable_condition(void) {
    return questionable_of(conditions);
}

uint16_t status_take_questionable(void) {
    const uint16_t taken = questionable_of(begun);
    begun = (uint8_t)(begun & (uint8_t)~(CONDITION_SUPPLY_LOW | CONDITION_DIAL_FAULT | CONDITION_INTERLOCK_OPEN));
    return taken;
}

uint16_t status_enable(uint8_t which) {
    return enables[which];
}

void status_set_enable(uint8_t which, uint16_t bits) {
    enables[which] = bits & REGISTER_BITS;
}

void status_preset(void) {
    for (uint8_t which = 0; which < ENABLE_COUNT; which++) {
        enables[which] = 0;
    }
}

uint8_t status_byte(void) {
    uint8_t status = 0;
    if ((operation_of(begun) & enables[ENABLE_OPERATION]) != 0) {
        status |= STATUS_OPERATION;
    }
    if ((questionable_of(begun) & enables[ENABLE_QUESTIONABLE]) != 0) {
        status |= STATUS_QUESTIONABLE;
    }
    if (queued > 0) {
        status |= STATUS_ERROR_QUEUE;
    }
    if ((events & event_enable) != 0) {
        status |= STATUS_EVENT_SUMMARY;
    }
    if ((status & service_enable) != 0) {
        status |= STATUS_MASTER_SUMMARY;
    }
    return status;
}
