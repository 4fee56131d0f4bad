/*
 * The serial link: lines in, answers out, a small piece a pass.
 *
 * spot_stitch, design 87d79af519c50507, made by wirecue 0.0.0.
 * Made from the design file: change that and build again, so that board, bench and papers keep agreeing.
 */

#include "link.h"

#include <stddef.h>

#include "flash.h"
#include "link_actions.h"
#include "link_commands.h"
#include "link_status.h"
#include "port.h"

#define LONGEST_LINE 50u
#define NEEDS_JUMPER 0x80u
/* Characters of a header that one pass compares. */
#define MATCHES_A_PASS 2u
/* What parts commands ends the last one, too. */
#define END_MARK ';'
/* Exponents beyond this say no more than it: a line has not the digits to make up for it. */
#define LARGEST_EXPONENT 63u

/* ---- The words of the headers, in flash; in brackets what the short form of a word leaves out ---- */

static const char word_common_CLS[] IN_FLASH = "*CLS";
static const char word_common_ESE[] IN_FLASH = "*ESE";
static const char word_common_ESE_query[] IN_FLASH = "*ESE?";
static const char word_common_ESR_query[] IN_FLASH = "*ESR?";
static const char word_common_IDN_query[] IN_FLASH = "*IDN?";
static const char word_common_OPC[] IN_FLASH = "*OPC";
static const char word_common_OPC_query[] IN_FLASH = "*OPC?";
static const char word_common_RST[] IN_FLASH = "*RST";
static const char word_common_SRE[] IN_FLASH = "*SRE";
static const char word_common_SRE_query[] IN_FLASH = "*SRE?";
static const char word_common_STB_query[] IN_FLASH = "*STB?";
static const char word_common_TST_query[] IN_FLASH = "*TST?";
static const char word_common_WAI[] IN_FLASH = "*WAI";
static const char word_ANALOG[] IN_FLASH = "ANAL[OG]";
static const char word_ANALOG_query[] IN_FLASH = "ANAL[OG]?";
static const char word_BENCH[] IN_FLASH = "BENC[H]";
static const char word_CLEAR[] IN_FLASH = "CLE[AR]";
static const char word_CLOCK_query[] IN_FLASH = "CLOC[K]?";
static const char word_CONDITION_query[] IN_FLASH = "COND[ITION]?";
static const char word_CONTACTS[] IN_FLASH = "CONT[ACTS]";
static const char word_CONTACTS_query[] IN_FLASH = "CONT[ACTS]?";
static const char word_DATA_query[] IN_FLASH = "DATA?";
static const char word_ENABLE[] IN_FLASH = "ENAB[LE]";
static const char word_ENABLE_query[] IN_FLASH = "ENAB[LE]?";
static const char word_ERROR[] IN_FLASH = "ERR[OR]";
static const char word_ERROR_query[] IN_FLASH = "ERR[OR]?";
static const char word_EVENT_query[] IN_FLASH = "EVEN[T]?";
static const char word_FAULT_query[] IN_FLASH = "FAUL[T]?";
static const char word_HANG[] IN_FLASH = "HANG";
static const char word_INPUT[] IN_FLASH = "INP[UT]";
static const char word_LOST_query[] IN_FLASH = "LOST?";
static const char word_NEXT_query[] IN_FLASH = "NEXT?";
static const char word_OPERATION[] IN_FLASH = "OPER[ATION]";
static const char word_OPERATION_query[] IN_FLASH = "OPER[ATION]?";
static const char word_OUTPUT[] IN_FLASH = "OUTP[UT]";
static const char word_PINS[] IN_FLASH = "PINS";
static const char word_PRESET[] IN_FLASH = "PRES[ET]";
static const char word_QUESTIONABLE[] IN_FLASH = "QUES[TIONABLE]";
static const char word_QUESTIONABLE_query[] IN_FLASH = "QUES[TIONABLE]?";
static const char word_RELEASE[] IN_FLASH = "REL[EASE]";
static const char word_RESET_query[] IN_FLASH = "RES[ET]?";
static const char word_SEQUENCE[] IN_FLASH = "SEQ[UENCE]";
static const char word_STATE_query[] IN_FLASH = "STAT[E]?";
static const char word_STATUS[] IN_FLASH = "STAT[US]";
static const char word_SYSTEM[] IN_FLASH = "SYST[EM]";
static const char word_TIME_query[] IN_FLASH = "TIME?";
static const char word_TRACE[] IN_FLASH = "TRAC[E]";
static const char word_VERSION_query[] IN_FLASH = "VERS[ION]?";

#define NODE 0x80u /* and the place of the first word that may follow */
#define ROOT 0u

/* Words that may stand in the same place follow each other, up to an empty one. */
static const struct {
    const char *text;
    uint8_t leads_to; /* a command, or a node */
} words[] IN_FLASH = {
    {word_common_CLS, COMMAND_CLEAR_STATUS}, /* *CLS */
    {word_common_ESE, COMMAND_SET_EVENT_ENABLE}, /* *ESE */
    {word_common_ESE_query, COMMAND_EVENT_ENABLE}, /* *ESE? */
    {word_common_ESR_query, COMMAND_EVENT_STATUS}, /* *ESR? */
    {word_common_IDN_query, COMMAND_IDENTITY}, /* *IDN? */
    {word_common_OPC, COMMAND_OPERATION_COMPLETE}, /* *OPC */
    {word_common_OPC_query, COMMAND_OPERATION_COMPLETE_QUERY}, /* *OPC? */
    {word_common_RST, COMMAND_RESET}, /* *RST */
    {word_common_SRE, COMMAND_SET_SERVICE_ENABLE}, /* *SRE */
    {word_common_SRE_query, COMMAND_SERVICE_ENABLE}, /* *SRE? */
    {word_common_STB_query, COMMAND_STATUS_BYTE}, /* *STB? */
    {word_common_TST_query, COMMAND_SELF_TEST}, /* *TST? */
    {word_common_WAI, COMMAND_WAIT}, /* *WAI */
    {word_SYSTEM, NODE | 21u}, /* SYSTem: */
    {word_STATUS, NODE | 26u}, /* STATus: */
    {word_SEQUENCE, NODE | 32u}, /* SEQuence: */
    {word_INPUT, NODE | 36u}, /* INPut: */
    {word_OUTPUT, NODE | 40u}, /* OUTPut: */
    {word_TRACE, NODE | 42u}, /* TRACe: */
    {word_BENCH, NODE | 46u}, /* BENCh: */
    {NULL, 0},
    {word_ERROR_query, COMMAND_NEXT_ERROR}, /* SYSTem:ERRor? */
    {word_RESET_query, COMMAND_WHY_RESET}, /* SYSTem:RESet? */
    {word_VERSION_query, COMMAND_VERSION}, /* SYSTem:VERSion? */
    {word_ERROR, NODE | 54u}, /* SYSTem:ERRor: */
    {NULL, 0},
    {word_OPERATION_query, COMMAND_OPERATION_EVENT}, /* STATus:OPERation? */
    {word_QUESTIONABLE_query, COMMAND_QUESTIONABLE_EVENT}, /* STATus:QUEStionable? */
    {word_PRESET, COMMAND_PRESET}, /* STATus:PRESet */
    {word_OPERATION, NODE | 56u}, /* STATus:OPERation: */
    {word_QUESTIONABLE, NODE | 61u}, /* STATus:QUEStionable: */
    {NULL, 0},
    {word_CLOCK_query, COMMAND_CLOCK}, /* SEQuence:CLOCk? */
    {word_STATE_query, COMMAND_STATE}, /* SEQuence:STATe? */
    {word_FAULT_query, COMMAND_LAST_FAULT}, /* SEQuence:FAULt? */
    {NULL, 0},
    {word_STATE_query, COMMAND_CONTACTS}, /* INPut:STATe? */
    {word_ANALOG_query, COMMAND_ANALOG}, /* INPut:ANALog? */
    {word_TIME_query, COMMAND_TIME}, /* INPut:TIME? */
    {NULL, 0},
    {word_STATE_query, COMMAND_OUTPUTS}, /* OUTPut:STATe? */
    {NULL, 0},
    {word_DATA_query, COMMAND_TRACE}, /* TRACe:DATA? */
    {word_LOST_query, COMMAND_TRACE_LOST}, /* TRACe:LOST? */
    {word_CLEAR, COMMAND_TRACE_CLEAR}, /* TRACe:CLEar */
    {NULL, 0},
    {word_STATE_query, COMMAND_BENCH}, /* BENCh:STATe? */
    {word_CONTACTS, COMMAND_FORCE_CONTACTS}, /* BENCh:CONTacts */
    {word_CONTACTS_query, COMMAND_FORCED_CONTACTS}, /* BENCh:CONTacts? */
    {word_PINS, COMMAND_LEAVE_CONTACTS}, /* BENCh:PINS */
    {word_ANALOG, COMMAND_FORCE_ANALOG}, /* BENCh:ANALog */
    {word_RELEASE, COMMAND_RELEASE}, /* BENCh:RELease */
    {word_HANG, COMMAND_HANG}, /* BENCh:HANG */
    {NULL, 0},
    {word_NEXT_query, COMMAND_NEXT_ERROR}, /* SYSTem:ERRor:NEXT? */
    {NULL, 0},
    {word_EVENT_query, COMMAND_OPERATION_EVENT}, /* STATus:OPERation:EVENt? */
    {word_CONDITION_query, COMMAND_OPERATION_CONDITION}, /* STATus:OPERation:CONDition? */
    {word_ENABLE, COMMAND_SET_OPERATION_ENABLE}, /* STATus:OPERation:ENABle */
    {word_ENABLE_query, COMMAND_OPERATION_ENABLE}, /* STATus:OPERation:ENABle? */
    {NULL, 0},
    {word_EVENT_query, COMMAND_QUESTIONABLE_EVENT}, /* STATus:QUEStionable:EVENt? */
    {word_CONDITION_query, COMMAND_QUESTIONABLE_CONDITION}, /* STATus:QUEStionable:CONDition? */
    {word_ENABLE, COMMAND_SET_QUESTIONABLE_ENABLE}, /* STATus:QUEStionable:ENABle */
    {word_ENABLE_query, COMMAND_QUESTIONABLE_ENABLE}, /* STATus:QUEStionable:ENABle? */
    {NULL, 0}
};

#define WORDS (sizeof words / sizeof words[0])

/* Number of parameters, and whether the command needs the jumper. */
static const uint8_t takes_of[COMMAND_COUNT] IN_FLASH = {
    0, /* *CLS */
    1, /* *ESE */
    0, /* *ESE? */
    0, /* *ESR? */
    0, /* *IDN? */
    0, /* *OPC */
    0, /* *OPC? */
    0, /* *RST */
    1, /* *SRE */
    0, /* *SRE? */
    0, /* *STB? */
    0, /* *TST? */
    0, /* *WAI */
    0, /* SYSTem:ERRor[:NEXT]? */
    0, /* SYSTem:RESet? */
    0, /* SYSTem:VERSion? */
    0, /* STATus:OPERation[:EVENt]? */
    0, /* STATus:OPERation:CONDition? */
    1, /* STATus:OPERation:ENABle */
    0, /* STATus:OPERation:ENABle? */
    0, /* STATus:QUEStionable[:EVENt]? */
    0, /* STATus:QUEStionable:CONDition? */
    1, /* STATus:QUEStionable:ENABle */
    0, /* STATus:QUEStionable:ENABle? */
    0, /* STATus:PRESet */
    0, /* SEQuence:CLOCk? */
    0, /* SEQuence:STATe? */
    0, /* SEQuence:FAULt? */
    0, /* INPut:STATe? */
    0, /* OUTPut:STATe? */
    1, /* INPut:ANALog? */
    1, /* INPut:TIME? */
    0, /* TRACe:DATA? */
    0, /* TRACe:LOST? */
    0, /* TRACe:CLEar */
    0, /* BENCh:STATe? */
    1 | NEEDS_JUMPER, /* BENCh:CONTacts */
    0, /* BENCh:CONTacts? */
    1 | NEEDS_JUMPER, /* BENCh:PINS */
    2 | NEEDS_JUMPER, /* BENCh:ANALog */
    NEEDS_JUMPER, /* BENCh:RELease */
    NEEDS_JUMPER /* BENCh:HANG */
};

/* ---- What goes on ---- */

/* What the next pass does. */
enum {
    COLLECT,    /* takes a character of a line */
    BEGIN,      /* looks for the beginning of a command */
    MATCH,      /* compares its header with the words */
    PARAMETERS, /* reads a character of its parameters */
    VALUE,      /* takes a digit of a parameter into its value */
    CHECK,      /* sees whether the parameters are those that it takes */
    CARRY_OUT,  /* does what it says */
    ANSWER      /* sends a character of its answer */
};

/* Where in a number the next character stands (IEEE 488.2, 7.7.2 and 7.7.4). */
enum {
    NUMBER_BAD,      /* it is none */
    NUMBER_START,
    NUMBER_SIGNED,   /* behind its sign */
    NUMBER_POINT,    /* behind a point that nothing stands before */
    NUMBER_WHOLE,    /* among its digits before the point */
    NUMBER_FRACTION, /* behind the point */
    NUMBER_GAP,      /* among blanks behind its digits */
    EXPONENT_START,  /* behind the E */
    EXPONENT_SIGNED, /* behind the exponent's sign */
    EXPONENT_DIGITS,
    NUMBER_END, /* among blanks that nothing may follow */
    PARTS,
    RADIX = PARTS, /* behind a number sign */
    RADIX_START,   /* behind its letter */
    RADIX_DIGITS   /* hexadecimal, octal or binary */
};

/* What a character is to a decimal number, and where the next one then stands, by where this one does. */
enum { KIND_BLANK, KIND_DIGIT, KIND_SIGN, KIND_POINT, KIND_EXPONENT, KIND_RADIX, KINDS };

static const uint8_t next_parts[KINDS][PARTS] IN_FLASH = {
    /* blank     */ {NUMBER_BAD, NUMBER_START, NUMBER_BAD, NUMBER_BAD, NUMBER_GAP, NUMBER_GAP, NUMBER_GAP, EXPONENT_START, NUMBER_BAD, NUMBER_END, NUMBER_END},
    /* digit     */ {NUMBER_BAD, NUMBER_WHOLE, NUMBER_WHOLE, NUMBER_FRACTION, NUMBER_WHOLE, NUMBER_FRACTION, NUMBER_BAD, EXPONENT_DIGITS, EXPONENT_DIGITS, EXPONENT_DIGITS, NUMBER_BAD},
    /* sign      */ {NUMBER_BAD, NUMBER_SIGNED, NUMBER_BAD, NUMBER_BAD, NUMBER_BAD, NUMBER_BAD, NUMBER_BAD, EXPONENT_SIGNED, NUMBER_BAD, NUMBER_BAD, NUMBER_BAD},
    /* point     */ {NUMBER_BAD, NUMBER_POINT, NUMBER_POINT, NUMBER_BAD, NUMBER_FRACTION, NUMBER_BAD, NUMBER_BAD, NUMBER_BAD, NUMBER_BAD, NUMBER_BAD, NUMBER_BAD},
    /* exponent  */ {NUMBER_BAD, NUMBER_BAD, NUMBER_BAD, NUMBER_BAD, EXPONENT_START, EXPONENT_START, EXPONENT_START, NUMBER_BAD, NUMBER_BAD, NUMBER_BAD, NUMBER_BAD},
    /* radix     */ {NUMBER_BAD, RADIX, NUMBER_BAD, NUMBER_BAD, NUMBER_BAD, NUMBER_BAD, NUMBER_BAD, NUMBER_BAD, NUMBER_BAD, NUMBER_BAD, NUMBER_BAD}
};

static uint8_t task;
static bool jumper;
static char line[LONGEST_LINE + 1u]; /* in capitals; one more for the carriage return, and then for the end mark */
static uint8_t length;               /* characters in it; beyond its size: too many came */
static uint8_t position;
static uint8_t path; /* the node under which the next header begins: that of the one before it */
static uint8_t command;
static bool answered; /* something of this line was answered */

/* A command is in one of these at a time. */
static union {
    struct {
        const char *text; /* the next character of the word that is compared, in flash */
        uint8_t node;     /* reached so far */
        uint8_t word;     /* that is compared */
        uint8_t from;     /* where it begins in the line */
    } header;
    struct {
        uint16_t values[MOST_PARAMETERS];
        uint16_t value;
        uint8_t given;
        uint8_t part; /* of the present number */
        uint8_t from; /* where its digits begin in the line */
        uint8_t whole; /* digits before its point */
        uint8_t exponent;
        uint8_t base; /* 16, 8 or 2; 0: decimal */
        int16_t left; /* digits still to be taken */
        bool negative;
        bool exponent_negative;
        bool bad;    /* one of the parameters is no number */
        bool beyond; /* one of them is negative, or too large for any command */
    } number;
    struct {
        link_answer answer;
        char before;    /* sent first: what parts this answer or number from the one before; 0: nothing */
        uint8_t number; /* which number */
        uint8_t power;  /* which power of ten */
        bool begun;     /* a digit was sent, so that zeros count */
    } reply;
} work;

/* White space is every code up to the blank; a line feed ends the line. IEEE 488.2, 7.4.1.2. */
static bool blank(char character) {
    return (uint8_t)character <= (uint8_t)' ';
}

/* A character of the line; behind its end nothing but end marks. */
static char at(uint8_t place) {
    return place < sizeof line ? line[place] : END_MARK;
}

static bool is_digit(char character) {
    return character >= '0' && character <= '9';
}

static char capital(char character) {
    return character >= 'a' && character <= 'z' ? (char)(character - 'a' + 'A') : character;
}

/* ---- Taking a line ---- */

static void take_line(uint32_t now_us) {
    if (length > 0 && length <= sizeof line && line[length - 1u] == '\r') {
        length--;
    }
    link_line_came(now_us);
    if (length > LONGEST_LINE) {
        status_error(ERROR_TOO_MUCH_DATA);
        length = 0;
        return;
    }
    line[length] = END_MARK;
    position = 0;
    path = ROOT;
    answered = false;
    task = BEGIN;
}

static void drop_line(uint8_t error) {
    status_error(error);
    length = 0;
}

static void collect_character(char character, uint32_t now_us) {
    if (character == '\n') {
        take_line(now_us);
    } else if (length < sizeof line) {
        line[length] = capital(character);
        length++;
    } else {
        length = sizeof line + 1u;
    }
}

static void collect(uint32_t now_us) {
    char character = '\0';
    switch (port_receive(&character)) {
    case PORT_CHARACTER:
        collect_character(character, now_us);
        break;
    case PORT_OVERRUN:
        drop_line(ERROR_OVERRUN);
        break;
    case PORT_FRAMING:
        drop_line(ERROR_FRAMING);
        break;
    default:
        break;
    }
}

static void end_line(void) {
    if (answered) {
        if (!port_can_send()) {
            return;
        }
        port_send('\n');
    }
    length = 0;
    task = COLLECT;
}

/* ---- Finding the command ---- */

/* After a command error nothing more of the line is carried out. */
static void give_up(uint8_t command_error) {
    status_error(command_error);
    position = length;
    task = BEGIN;
}

static void try_word(uint8_t word) {
    work.header.word = word;
    work.header.text = word < WORDS ? FLASH_TEXT(&words[word].text) : NULL;
    position = work.header.from;
    if (work.header.text == NULL) {
        give_up(ERROR_UNDEFINED_HEADER);
    }
}

static void begin_word(uint8_t node) {
    work.header.node = node;
    work.header.from = position;
    try_word(node);
}

static void begin(void) {
    if (position >= length) {
        end_line();
        return;
    }
    const char first = at(position);
    if (blank(first) || first == END_MARK) {
        position++;
        return;
    }
    if (first != ':' && first != '*' && !(first >= 'A' && first <= 'Z')) {
        give_up(ERROR_SYNTAX);
        return;
    }
    if (first == ':') {
        position++;
        if (at(position) == '*') { /* a star stands for itself */
            give_up(ERROR_UNDEFINED_HEADER);
            return;
        }
    }
    task = MATCH;
    begin_word(first == ':' || first == '*' ? ROOT : path);
}

static void begin_number(void) {
    work.number.value = 0;
    work.number.from = position;
    work.number.part = NUMBER_START;
    work.number.whole = 0;
    work.number.exponent = 0;
    work.number.base = 0;
    work.number.negative = false;
    work.number.exponent_negative = false;
}

static void begin_parameters(void) {
    work.number.given = 0;
    work.number.bad = false;
    work.number.beyond = false;
    begin_number();
    task = PARAMETERS;
}

/* The word is there: goes on behind it, unless something else was meant. */
static void end_word(char found) {
    const uint8_t leads_to = FLASH_BYTE(&words[work.header.word].leads_to);
    if (leads_to >= NODE) {
        if (found == ':') {
            position++;
            begin_word((uint8_t)(leads_to & ~NODE));
            return;
        }
    } else if (blank(found) || found == END_MARK) {
        command = leads_to;
        if (at(work.header.from) != '*') { /* common commands leave the path alone */
            path = work.header.node;
        }
        begin_parameters();
        return;
    }
    try_word((uint8_t)(work.header.word + 1u));
}

/* Compares one character of the word with the line. */
static void match_character(void) {
    const char found = at(position);
    char wanted = FLASH_CHAR(work.header.text);
    work.header.text++;
    if (wanted == '[' && FLASH_CHAR(work.header.text) != found) {
        while (wanted != ']') { /* the short form ends here */
            wanted = FLASH_CHAR(work.header.text);
            work.header.text++;
        }
    }
    if (wanted == '[' || wanted == ']') {
        return;
    }
    if (wanted == '\0') {
        end_word(found);
    } else if (wanted == found) {
        position++;
    } else {
        try_word((uint8_t)(work.header.word + 1u));
    }
}

static void match(void) {
    for (uint8_t piece = 0; piece < MATCHES_A_PASS && task == MATCH; piece++) {
        match_character();
    }
}

/* ---- Sending its answer ---- */

static const uint32_t powers_of_ten[] IN_FLASH = {1000000000u, 100000000u, 10000000u, 1000000u, 100000u,
                                                  10000u,      1000u,      100u,      10u,      1u};
#define POWERS ((uint8_t)(sizeof powers_of_ten / sizeof powers_of_ten[0]))

/* Begins with a number; small ones skip the passes of their leading zeros. */
static void begin_digits(uint8_t number) {
    work.reply.number = number;
    work.reply.begun = false;
    work.reply.power = work.reply.answer.numbers[number] < 10000u ? (uint8_t)(POWERS - 4u) : 0;
}

/* Works out the next digit of the present number, and sends it unless it is a leading zero. */
static void send_digit(void) {
    const uint32_t power = FLASH_DWORD(&powers_of_ten[work.reply.power]);
    uint32_t rest = work.reply.answer.numbers[work.reply.number];
    char digit = '0';
    while (rest >= power && digit < '9') {
        rest -= power;
        digit++;
    }
    work.reply.answer.numbers[work.reply.number] = rest;
    work.reply.power++;
    if (digit != '0' || work.reply.begun || work.reply.power == POWERS) {
        work.reply.begun = true;
        port_send(digit);
    }
}

/* Begins to send what the command answers, if it answers. */
static void begin_answer(void) {
    if (work.reply.answer.text == NULL && work.reply.answer.count == 0) {
        task = BEGIN;
        return;
    }
    work.reply.before = answered ? ';' : '\0';
    begin_digits(0);
    answered = true;
    task = ANSWER;
}

static void send_number(void) {
    if (work.reply.power < POWERS) {
        send_digit();
        return;
    }
    if (work.reply.number + 1u >= work.reply.answer.count) {
        task = BEGIN;
        return;
    }
    begin_digits((uint8_t)(work.reply.number + 1u));
    port_send(',');
}

static void send_text(void) {
    const char character = FLASH_CHAR(work.reply.answer.text);
    if (character == '\0') {
        task = BEGIN;
        return;
    }
    port_send(character);
    work.reply.answer.text++;
}

static void send_answer(void) {
    if (!port_can_send()) {
        return;
    }
    if (work.reply.before != '\0') {
        port_send(work.reply.before);
        work.reply.before = '\0';
    } else if (work.reply.answer.count == 0) {
        send_text();
    } else {
        send_number();
    }
}

/* ---- Its parameters ---- */

/* Puts a digit behind those that the value has. */
static void append_digit(uint8_t base, uint8_t units) {
    const uint32_t value = (uint32_t)work.number.value * base + units;
    if (value > UINT16_MAX) {
        work.number.beyond = true;
    }
    work.number.value = (uint16_t)value;
}

/* What a character counts as a digit, or something that is none. */
static uint8_t units_of(char character) {
    if (character >= 'A') {
        return (uint8_t)(character - 'A' + 10);
    }
    return is_digit(character) ? (uint8_t)(character - '0') : UINT8_MAX;
}

/* Not as a switch: the compiler would make a table of it, in memory. */
static uint8_t base_of(char letter) {
    if (letter == 'H') {
        return 16;
    }
    if (letter == 'Q') {
        return 8;
    }
    return letter == 'B' ? 2 : 0;
}

static uint8_t radix_character(char character) {
    if (work.number.part == RADIX) {
        work.number.base = base_of(character);
        return work.number.base != 0 ? RADIX_START : NUMBER_BAD;
    }
    if (blank(character)) {
        return work.number.part == RADIX_DIGITS ? NUMBER_END : NUMBER_BAD;
    }
    const uint8_t units = units_of(character);
    if (units >= work.number.base) {
        return NUMBER_BAD;
    }
    append_digit(work.number.base, units);
    return RADIX_DIGITS;
}

static uint8_t kind_of(char character) {
    if (blank(character)) {
        return KIND_BLANK;
    }
    if (is_digit(character)) {
        return KIND_DIGIT;
    }
    if (character == '+' || character == '-') {
        return KIND_SIGN;
    }
    if (character == '.') {
        return KIND_POINT;
    }
    if (character == 'E') {
        return KIND_EXPONENT;
    }
    return character == '#' ? KIND_RADIX : KINDS;
}

static void append_exponent(uint8_t units) {
    const uint16_t exponent = (uint16_t)(work.number.exponent * 10u + units);
    work.number.exponent = exponent < LARGEST_EXPONENT ? (uint8_t)exponent : LARGEST_EXPONENT;
}

static uint8_t decimal_character(char character) {
    if (work.number.part <= NUMBER_SIGNED) {
        work.number.from = position;
    }
    const uint8_t kind = kind_of(character);
    const uint8_t next = kind < KINDS ? FLASH_BYTE(&next_parts[kind][work.number.part]) : (uint8_t)NUMBER_BAD;
    switch (next) {
    case NUMBER_SIGNED:
        work.number.negative = character == '-';
        break;
    case NUMBER_WHOLE:
        work.number.whole++;
        break;
    case EXPONENT_SIGNED:
        work.number.exponent_negative = character == '-';
        break;
    case EXPONENT_DIGITS:
        append_exponent(units_of(character));
        break;
    default:
        break;
    }
    return next;
}

static void end_value(void) {
    if (work.number.negative && work.number.value != 0) {
        work.number.beyond = true;
    }
    if (work.number.given < MOST_PARAMETERS) {
        work.number.values[work.number.given] = work.number.value;
    }
    work.number.given++;
    if (at(position) == END_MARK) {
        task = CHECK;
    } else {
        position++;
        begin_number();
        task = PARAMETERS;
    }
}

/* The number has all its characters. A decimal one gets its value from as many of its digits as its exponent says. */
static void end_number(void) {
    switch (work.number.part) {
    case NUMBER_WHOLE:
    case NUMBER_FRACTION:
    case NUMBER_GAP:
    case EXPONENT_DIGITS:
    case NUMBER_END:
    case RADIX_DIGITS:
        break;
    default:
        work.number.bad = true;
        break;
    }
    if (work.number.bad || work.number.base != 0) {
        end_value();
        return;
    }
    work.number.left = (int16_t)(work.number.exponent_negative ? work.number.whole - work.number.exponent
                                                               : work.number.whole + work.number.exponent);
    task = VALUE;
}

/* The next digit of the number; zeros follow its last. */
static uint8_t next_digit(void) {
    if (at(work.number.from) == '.') {
        work.number.from++;
    }
    const char found = at(work.number.from);
    if (!is_digit(found)) {
        return 0;
    }
    work.number.from++;
    return (uint8_t)(found - '0');
}

/* Takes one digit; the first that is left over rounds, half away from zero. */
static void take_digit(void) {
    if (work.number.left < 0 || work.number.beyond) {
        end_value();
        return;
    }
    const uint8_t units = next_digit();
    if (work.number.left > 0) {
        work.number.left--;
        append_digit(10, units);
    } else {
        append_digit(1, units >= 5u);
        end_value();
    }
}

static void read_parameters(void) {
    const char character = at(position);
    if (character == END_MARK && work.number.given == 0 && work.number.part == NUMBER_START) {
        task = CHECK; /* there are none */
    } else if (character == END_MARK || character == ',') {
        end_number();
    } else {
        work.number.part = work.number.part >= RADIX ? radix_character(character) : decimal_character(character);
        position++;
    }
}

static void check(void) {
    const uint8_t wanted = (uint8_t)(FLASH_BYTE(&takes_of[command]) & ~NEEDS_JUMPER);
    if (work.number.given != wanted) {
        give_up(work.number.given < wanted ? ERROR_MISSING_PARAMETER : ERROR_PARAMETER_NOT_ALLOWED);
    } else if (work.number.bad) {
        give_up(ERROR_DATA_TYPE);
    } else {
        task = CARRY_OUT;
    }
}

static void carry_out(uint32_t now_us) {
    uint8_t error;
    if ((FLASH_BYTE(&takes_of[command]) & NEEDS_JUMPER) != 0 && !jumper) {
        error = ERROR_PROTECTED;
    } else if (work.number.beyond) {
        error = ERROR_OUT_OF_RANGE;
    } else {
        /* The answer takes the place of the parameters. */
        const uint16_t given[MOST_PARAMETERS] = {work.number.values[0], work.number.values[1]};
        error = link_carry_out(command, given, jumper, now_us, &work.reply.answer);
        if (error == ERROR_NONE) {
            begin_answer();
            return;
        }
    }
    status_error(error);
    task = BEGIN;
}

/* ---- One pass ---- */

void link_start(bool jumper_fitted) {
    jumper = jumper_fitted;
    task = COLLECT;
    length = 0;
    status_start();
}

void link_step(uint32_t now_us) {
    status_watch(link_watch(now_us));
    switch (task) {
    case COLLECT:
        collect(now_us);
        break;
    case BEGIN:
        begin();
        break;
    case MATCH:
        match();
        break;
    case PARAMETERS:
        read_parameters();
        break;
    case VALUE:
        take_digit();
        break;
    case CHECK:
        check();
        break;
    case CARRY_OUT:
        carry_out(now_us);
        break;
    case ANSWER:
        send_answer();
        break;
    default:
        task = COLLECT;
        break;
    }
}
