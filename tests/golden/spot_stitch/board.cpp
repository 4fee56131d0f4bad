/*
 * The board: pins, converter, clock, watchdog and serial port of an AVR.
 *
 * spot_stitch, design 87d79af519c50507, made by wirecue 0.0.0.
 * Made from the design file: change that and build again, so that board, bench and papers keep agreeing.
 */

#include "board.h"

#include <Arduino.h>
#include <avr/wdt.h>

#include "control.h"
#include "port.h"
#include "reset.h"
#include "sequence.h"
#include "settings.h"

/* A pull-up of 50 kohm at most lifts a metre of wire within this time. */
#define PULL_UP_US 50u

/* ---- Why it starts: kept in memory that a start leaves alone ---- */

#define KEY 0x9A6Du        /* memory that lost its power holds something else */
#define BEATS_OF_A_HANG 20u /* of timer 0, 1 ms each, without a pass */
#define GIVEN_UP 0xF0u     /* with the cause in the lower bits, in the place of the beats */

static struct {
    uint16_t key;
    uint8_t cause;         /* of reset.h; one that the lamp tells is kept until power-up */
    uint8_t fault;         /* the latest shown since power-up, of sequence.h */
    volatile uint8_t beats; /* of timer 0 since the last pass */
} kept __attribute__((section(".noinit")));
static uint8_t reset_flags __attribute__((section(".noinit")));

/* After a watchdog reset it runs on with its shortest time: it is stopped before anything else is done. A bootloader
 * that clears the reset flags hands them over in r2, if at all. */
extern "C" void watchdog_stop(void) __attribute__((naked, used, section(".init3")));
extern "C" void watchdog_stop(void) {
    __asm__ volatile("in r24, %1\n\t"
                     "tst r24\n\t"
                     "brne 1f\n\t"
                     "mov r24, r2\n"
                     "1:\tsts %0, r24"
                     :
                     : "i"(&reset_flags), "I"(_SFR_IO_ADDR(MCUSR))
                     : "r24", "memory");
    MCUSR = 0;
    wdt_disable();
}

ISR(TIMER0_COMPA_vect) {
    kept.beats++; /* the watchdog bites long before they overflow */
}

static uint8_t cause_of_flags(void) {
    if (reset_flags >= _BV(WDRF) << 1) {
        return RESET_UNTOLD; /* bits that are no reset flags: r2 was never theirs */
    }
    if (reset_flags & _BV(PORF)) {
        return RESET_POWER_UP;
    }
    if (reset_flags & _BV(BORF)) {
        return RESET_BROWN_OUT;
    }
    if (reset_flags & _BV(EXTRF)) {
        return RESET_PIN;
    }
    return (reset_flags & _BV(WDRF)) != 0 ? RESET_WATCHDOG : RESET_UNTOLD;
}

static void find_cause(void) {
    uint8_t cause = cause_of_flags();
    if (kept.key != KEY) {
        kept.cause = RESET_UNTOLD;
        cause = cause == RESET_UNTOLD ? (uint8_t)RESET_POWER_UP : cause;
    } else if (cause != RESET_POWER_UP && kept.beats >= GIVEN_UP) {
        cause = (uint8_t)(kept.beats & ~GIVEN_UP);
    } else if (cause != RESET_POWER_UP && kept.beats >= BEATS_OF_A_HANG) {
        cause = RESET_LOOP;
    }
    if (cause == RESET_POWER_UP || cause >= RESET_BROWN_OUT || kept.cause < RESET_BROWN_OUT) {
        kept.cause = cause;
    }
    if (kept.key != KEY || cause == RESET_POWER_UP) {
        kept.fault = FAULT_NONE;
    }
    kept.key = KEY;
    kept.beats = 0;
}

uint8_t board_reset_cause(void) {
    return kept.cause;
}

void board_keep_fault(uint8_t fault) {
    if (fault != FAULT_NONE) {
        kept.fault = fault;
    }
}

uint8_t board_kept_fault(void) {
    return kept.fault;
}

/* ---- Pins: all constants, so that each access is one instruction ---- */

struct Pin {
    volatile uint8_t &read;
    volatile uint8_t &direction;
    volatile uint8_t &write;
    uint8_t mask;
};
#define PIN_OF(port, bit) (Pin{PIN##port, DDR##port, PORT##port, (uint8_t)(1u << (bit))})

static inline bool is_high(const Pin &pin) __attribute__((always_inline));
static inline void drive(const Pin &pin, bool high) __attribute__((always_inline));
static inline void make_output(const Pin &pin) __attribute__((always_inline));
static inline void make_contact(const Pin &pin) __attribute__((always_inline));

static inline bool is_high(const Pin &pin) {
    return (pin.read & pin.mask) != 0;
}

static inline void drive(const Pin &pin, bool high) {
    if (high) {
        pin.write |= pin.mask;
    } else {
        pin.write &= (uint8_t)~pin.mask;
    }
}

static inline void make_output(const Pin &pin) {
    pin.direction |= pin.mask;
}

/* A contact closes to board common. */
static inline void make_contact(const Pin &pin) {
    pin.direction &= (uint8_t)~pin.mask;
    pin.write |= pin.mask;
}

static bool bench_link_fitted;

/* ---- Converter: one channel after the other, never waited for ---- */

static const uint8_t channels[READING_COUNT] PROGMEM = {
    SPOT_CHANNEL,
    BURNBACK_CHANNEL,
    PAUSE_CHANNEL,
    SUPPLY_CHANNEL
};
static uint8_t converting; /* index of the reading under way */
static uint8_t conversions; /* in this window of the watch */

static void make_contacts(void) {
    make_contact(TRIGGER_PIN);
    make_contact(PURGE_PIN);
    make_contact(ARC_PIN);
    make_contact(BENCH_LINK_PIN);
    make_contact(SPOT_SWITCH_PIN);
    make_contact(PAUSE_SWITCH_PIN);
}

/* Writes all of the converter's registers anew, so that what disturbed one lasts no longer than a conversion. */
static void convert(void) {
    const uint8_t channel = pgm_read_byte(&channels[converting]);
    /* Reference: the board's supply, which the dials hang on, too. */
    ADMUX = (uint8_t)(_BV(REFS0) | (channel & 7u));
#if defined(MUX5)
    ADCSRB = channel & 8u ? _BV(MUX5) : 0;
#endif
    /* Clock over 128: 125 kHz at 16 MHz, 104 us a reading. */
    ADCSRA = _BV(ADEN) | _BV(ADSC) | _BV(ADPS2) | _BV(ADPS1) | _BV(ADPS0);
}

static bool converted(void) {
    if ((ADCSRA & _BV(ADSC)) != 0) {
        return false;
    }
    conversions++;
    return true;
}

bool board_reading(uint8_t *reading, uint16_t *counts) {
    if (!converted()) {
        return false;
    }
    *reading = converting;
    *counts = ADC;
    converting++;
    if (converting >= READING_COUNT) {
        converting = 0;
        make_contacts(); /* once a round, in a pass that brings a reading: those do not talk */
    }
    convert();
    return true;
}

/* ---- The watch ----
 * Two time bases are held against each other: timer 0, which times the weld, and the converter, which has a prescaler
 * of its own; the watchdog has an oscillator of its own, and is served by timer 0 just often enough. Any of the three
 * that stops or goes at half speed ends in hold-off within the watchdog's time after it was noticed.
 */

#define WATCHDOG WDTO_60MS
#define SERVED_EVERY 3u /* windows: 49 ms, at half speed 98 ms */
#define WINDOW 64u      /* units of 256 us: 16.4 ms */
#define WINDOW_US (256u * WINDOW)
#define CONVERSION_US (13u * 128u / (F_CPU / 1000000u))
#define MOST_CONVERSIONS (WINDOW_US / CONVERSION_US * 9u / 8u)       /* a clock at half speed sees more */
#define LEAST_CONVERSIONS (WINDOW_US / CONVERSION_US / 2u + 1u)      /* a converter at half speed gives fewer */
#define UNJUDGED UINT8_MAX                                           /* the window that begins with the start */

static uint8_t window_began; /* in units of the clock, as above */
static uint8_t windows;      /* since the watchdog was served */

/* Everything off, and no service any more: the watchdog makes a new start of it, in hold-off. */
static void give_up(uint8_t cause) {
    TIMSK0 = 0;
    kept.beats = (uint8_t)(GIVEN_UP | cause);
    board_switch(0);
    board_hang();
}

void board_alive(uint32_t now_us) {
    kept.beats = 0;
    if (conversions > MOST_CONVERSIONS) {
        give_up(RESET_CLOCK);
    }
    const uint8_t unit = (uint8_t)(now_us >> 8);
    if ((uint8_t)(unit - window_began) < WINDOW) {
        return;
    }
    if (windows != UNJUDGED) {
        if (conversions < LEAST_CONVERSIONS) {
            give_up(RESET_CONVERTER);
        }
        windows++;
    }
    window_began = unit;
    conversions = 0;
    if (windows >= SERVED_EVERY && !port_wants_bootloader()) { /* else the watchdog is to bite */
        windows = 0;
        wdt_enable(WATCHDOG); /* its registers are written anew with it */
    }
}

/* ---- Registers of clock and outputs, written anew in every pass ---- */

#define TALKS_WITHIN (48u * (F_CPU / 1000000u) / 64u) /* 48 us, in ticks of timer 0 */
static uint8_t pass_began;

bool board_has_time(void) {
    return (uint8_t)(TCNT0 - pass_began) < TALKS_WITHIN;
}

void board_refresh(void) {
    pass_began = TCNT0;
#if defined(PRR)
    PRR = 0;
#else
    PRR0 = 0;
    PRR1 = 0;
#endif
    /* As the core sets timer 0: fast PWM, clock over 64, an interrupt at each overflow; the other is ours. */
    TCCR0A = _BV(WGM01) | _BV(WGM00);
    TCCR0B = _BV(CS01) | _BV(CS00);
    TIMSK0 = _BV(TOIE0) | _BV(OCIE0A);
    sei();
    make_output(GAS_VALVE_PIN);
    make_output(WIRE_DRIVE_PIN);
    make_output(CONTACTOR_PIN);
    make_output(LAMP_PIN);
}

void board_start(void) {
    find_cause();
    drive(GAS_VALVE_PIN, !GAS_VALVE_ON_HIGH);
    make_output(GAS_VALVE_PIN);
    drive(WIRE_DRIVE_PIN, !WIRE_DRIVE_ON_HIGH);
    make_output(WIRE_DRIVE_PIN);
    drive(CONTACTOR_PIN, !CONTACTOR_ON_HIGH);
    make_output(CONTACTOR_PIN);
    drive(LAMP_PIN, false);
    make_output(LAMP_PIN);
    make_contacts();
    delayMicroseconds(PULL_UP_US);
    bench_link_fitted = !is_high(BENCH_LINK_PIN);
    port_start();
    convert();
    windows = UNJUDGED;
    window_began = (uint8_t)(micros() >> 8);
    wdt_enable(WATCHDOG);
}

void board_hang(void) {
    for (;;) {
    }
}

bool board_bench_link(void) {
    return bench_link_fitted;
}

uint16_t board_contacts(void) {
    uint16_t contacts = 0;
    if (!is_high(TRIGGER_PIN)) {
        contacts |= CONTACT_TRIGGER;
    }
    if (!is_high(PURGE_PIN)) {
        contacts |= CONTACT_PURGE;
    }
    if (!is_high(ARC_PIN)) {
        contacts |= CONTACT_ARC;
    }
    if (!is_high(SPOT_SWITCH_PIN)) {
        contacts |= CONTACT_SPOT_SWITCH;
    }
    if (!is_high(PAUSE_SWITCH_PIN)) {
        contacts |= CONTACT_PAUSE_SWITCH;
    }
    return contacts;
}

void board_switch(uint8_t outputs) {
    drive(GAS_VALVE_PIN, ((outputs & OUTPUT_GAS) != 0) == GAS_VALVE_ON_HIGH);
    drive(WIRE_DRIVE_PIN, ((outputs & OUTPUT_WIRE) != 0) == WIRE_DRIVE_ON_HIGH);
    drive(CONTACTOR_PIN, ((outputs & OUTPUT_CONTACTOR) != 0) == CONTACTOR_ON_HIGH);
}

uint8_t board_outputs(void) {
    uint8_t outputs = 0;
    if (is_high(GAS_VALVE_PIN) == GAS_VALVE_ON_HIGH) {
        outputs |= OUTPUT_GAS;
    }
    if (is_high(WIRE_DRIVE_PIN) == WIRE_DRIVE_ON_HIGH) {
        outputs |= OUTPUT_WIRE;
    }
    if (is_high(CONTACTOR_PIN) == CONTACTOR_ON_HIGH) {
        outputs |= OUTPUT_CONTACTOR;
    }
    return outputs;
}

void board_lamp(bool lit) {
    drive(LAMP_PIN, lit);
}

uint32_t board_now_us(void) {
    return micros();
}
