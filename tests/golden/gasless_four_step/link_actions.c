/*
 * What each command of the serial link does and answers.
 *
 * gasless_four_step, design 05051989b288812e, made by wirecue 0.0.0.
 * Made from the design file: change that and build again, so that board, bench and papers keep agreeing.
 */

#include "link_actions.h"

#include <stddef.h>
#include <string.h>

#include "board.h"
#include "compiler.h"
#include "control.h"
#include "dials.h"
#include "derived.h"
#include "flash.h"
#include "forced.h"
#include "identity.h"
#include "link_commands.h"
#include "link_status.h"
#include "trace.h"

#define ALL_CONTACTS 2047u
#define ALL_BITS UINT8_MAX
#define NO_READING UINT8_MAX

static const char identity[] IN_FLASH = "wirecue," DESIGN_NAME "," DIGEST_ANSWERED "," GENERATOR_VERSION;
static const char scpi_version[] IN_FLASH = "1999.0";

static void answer_number(link_answer *answer, uint32_t number) {
    answer->numbers[answer->count] = number;
    answer->count++;
}

/* Answers a single number. */
static ONE_COPY void answer_one(link_answer *answer, uint32_t number) {
    answer->numbers[0] = number;
    answer->count = 1;
}

/* The reading behind a channel number of the link, or NO_READING. */
static uint8_t reading_of(uint16_t channel) {
    switch (channel) {
    case 2:
        return READING_BURNBACK;
    case 5:
        return READING_SUPPLY;
    default:
        return NO_READING;
    }
}

#define TRACE_NUMBERS 5u /* how many records there are, and those of one */

static void answer_trace(link_answer *answer) {
    const uint8_t records = trace_count();
    answer->count = TRACE_NUMBERS;
    answer->numbers[0] = records;
    if (records == 0) {
        memset(answer->numbers, 0, sizeof answer->numbers);
    } else {
        const trace_record *const oldest = trace_take();
        answer->numbers[1] = oldest->time_us;
        answer->numbers[2] = oldest->levels;
        answer->numbers[3] = oldest->phase_and_fault & 0x0Fu;
        answer->numbers[4] = oldest->phase_and_fault >> 4;
    }
}

uint8_t link_carry_out(uint8_t command, const uint16_t *parameters, bool jumper, uint32_t now_us, link_answer *answer) {
    const uint8_t reading = reading_of(parameters[0]);
    answer->text = NULL;
    answer->count = 0;
    switch (command) {
    case COMMAND_CLEAR_STATUS:
        status_clear();
        break;
    case COMMAND_SET_EVENT_ENABLE:
        if (parameters[0] > ALL_BITS) {
            return ERROR_OUT_OF_RANGE;
        }
        status_set_event_enable((uint8_t)parameters[0]);
        break;
    case COMMAND_EVENT_ENABLE:
        answer_one(answer, status_event_enable());
        break;
    case COMMAND_EVENT_STATUS:
        answer_one(answer, status_take_events());
        break;
    case COMMAND_IDENTITY:
        answer->text = identity;
        break;
    case COMMAND_OPERATION_COMPLETE:
        status_event(EVENT_OPERATION_COMPLETE);
        break;
    case COMMAND_OPERATION_COMPLETE_QUERY:
        answer_one(answer, 1);
        break;
    case COMMAND_SET_SERVICE_ENABLE:
        if (parameters[0] > ALL_BITS) {
            return ERROR_OUT_OF_RANGE;
        }
        status_set_service_enable((uint8_t)parameters[0]);
        break;
    case COMMAND_SERVICE_ENABLE:
        answer_one(answer, status_service_enable());
        break;
    case COMMAND_STATUS_BYTE:
        answer_one(answer, status_byte());
        break;
    case COMMAND_WAIT:
        break;
    case COMMAND_NEXT_ERROR:
        answer->text = status_next_error();
        break;
    case COMMAND_OPERATION_EVENT:
        answer_one(answer, status_take_operation());
        break;
    case COMMAND_OPERATION_CONDITION:
        answer_one(answer, status_operation_condition());
        break;
    case COMMAND_SET_OPERATION_ENABLE:
        status_set_enable(ENABLE_OPERATION, parameters[0]);
        break;
    case COMMAND_OPERATION_ENABLE:
        answer_one(answer, status_enable(ENABLE_OPERATION));
        break;
    case COMMAND_QUESTIONABLE_EVENT:
        answer_one(answer, status_take_questionable());
        break;
    case COMMAND_QUESTIONABLE_CONDITION:
        answer_one(answer, status_questionable_condition());
        break;
    case COMMAND_SET_QUESTIONABLE_ENABLE:
        status_set_enable(ENABLE_QUESTIONABLE, parameters[0]);
        break;
    case COMMAND_QUESTIONABLE_ENABLE:
        answer_one(answer, status_enable(ENABLE_QUESTIONABLE));
        break;
    case COMMAND_PRESET:
        status_preset();
        break;
    case COMMAND_WHY_RESET:
        answer_one(answer, board_reset_cause());
        break;
    case COMMAND_VERSION:
        answer->text = scpi_version;
        break;
    case COMMAND_TRACE_LOST:
        answer_one(answer, trace_lost());
        break;
    case COMMAND_TRACE_CLEAR:
        trace_clear();
        break;
    case COMMAND_RESET:
        if (jumper) {
            forced_release();
            control_restart(now_us);
        }
        break;
    case COMMAND_SELF_TEST:
        answer_one(answer, control_standing_fault());
        break;
    case COMMAND_CLOCK:
        answer_one(answer, now_us);
        break;
    case COMMAND_STATE:
        answer_number(answer, control_phase());
        answer_number(answer, control_fault());
        break;
    case COMMAND_LAST_FAULT:
        answer_one(answer, board_kept_fault());
        break;
    case COMMAND_CONTACTS:
        answer_one(answer, board_contacts());
        break;
    case COMMAND_OUTPUTS:
        answer_one(answer, board_outputs());
        break;
    case COMMAND_ANALOG:
        if (reading >= READING_COUNT) {
            return ERROR_OUT_OF_RANGE;
        }
        answer_one(answer, control_counts(reading));
        break;
    case COMMAND_TIME:
        if (reading >= DIAL_COUNT) { /* the dials are the first readings */
            return ERROR_OUT_OF_RANGE;
        }
        answer_one(answer, dials_time_us(reading));
        break;
    case COMMAND_TRACE:
        answer_trace(answer);
        break;
    case COMMAND_BENCH:
        answer_one(answer, jumper);
        break;
    case COMMAND_FORCE_CONTACTS:
        if (parameters[0] > ALL_CONTACTS) {
            return ERROR_OUT_OF_RANGE;
        }
        forced_set_contacts(parameters[0], now_us);
        break;
    case COMMAND_LEAVE_CONTACTS:
        if (parameters[0] > ALL_CONTACTS) {
            return ERROR_OUT_OF_RANGE;
        }
        forced_leave(parameters[0]);
        break;
    case COMMAND_FORCED_CONTACTS:
        answer_number(answer, forced_has_contacts());
        answer_number(answer, forced_contacts());
        answer_number(answer, forced_since_us());
        break;
    case COMMAND_FORCE_ANALOG:
        if (reading >= READING_COUNT || parameters[1] > FULL_SCALE) {
            return ERROR_OUT_OF_RANGE;
        }
        control_force_reading(reading, parameters[1], now_us);
        break;
    case COMMAND_RELEASE:
        forced_release();
        break;
    case COMMAND_HANG:
        board_hang();
        break;
    default:
        break;
    }
    return ERROR_NONE;
}

void link_line_came(uint32_t now_us) {
    forced_keep(now_us);
}

uint8_t link_watch(uint32_t now_us) {
    forced_lapse(now_us);
    return control_conditions();
}
