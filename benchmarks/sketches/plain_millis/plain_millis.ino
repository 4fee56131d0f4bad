// The job done the plain way, with millis(), and every dial read in each pass. Written for the comparison only.
#include <avr/wdt.h>

const uint8_t TRIGGER = 2, GAS = 5, WIRE = 6, CONTACTOR = 7;
const uint8_t PREFLOW_DIAL = A0, BURNBACK_DIAL = A2, POSTFLOW_DIAL = A3, SUPPLY = A5;
const unsigned long FILTER_MS = 25;

enum Phase { IDLE, PREFLOW, WELD, BURNBACK, POSTFLOW };

static Phase phase = IDLE;
static unsigned long since_ms, moved_ms;
static bool held, was_closed;
static int supply;

static unsigned long dial_ms(uint8_t dial, long from_ms, long to_ms) {
    return static_cast<unsigned long>(map(analogRead(dial), 0, 1023, from_ms, to_ms));
}

static void answer() {
    while (Serial.available() > 0) {
        if (Serial.read() == '\n') {
            Serial.print(phase);
            Serial.print(',');
            Serial.println(supply);
        }
    }
}

static void go_to(Phase next, unsigned long now_ms) {
    phase = next;
    since_ms = now_ms;
    digitalWrite(GAS, next == IDLE ? LOW : HIGH);
    digitalWrite(WIRE, next == WELD ? HIGH : LOW);
    digitalWrite(CONTACTOR, next == WELD || next == BURNBACK ? HIGH : LOW);
}

void setup() {
    Serial.begin(115200);
    pinMode(TRIGGER, INPUT_PULLUP);
    pinMode(GAS, OUTPUT);
    pinMode(WIRE, OUTPUT);
    pinMode(CONTACTOR, OUTPUT);
}

void loop() {
    wdt_reset(); // the measurement counts passes by this
    const unsigned long preflow_ms = dial_ms(PREFLOW_DIAL, 0, 1500);
    const unsigned long burnback_ms = dial_ms(BURNBACK_DIAL, 20, 300);
    const unsigned long postflow_ms = dial_ms(POSTFLOW_DIAL, 200, 4000);
    supply = analogRead(SUPPLY);
    const unsigned long now_ms = millis();
    const bool closed = digitalRead(TRIGGER) == LOW;
    if (closed != was_closed) {
        was_closed = closed;
        moved_ms = now_ms;
    }
    const bool held_before = held;
    if (now_ms - moved_ms >= FILTER_MS) {
        held = was_closed;
    }
    const bool over = now_ms - since_ms >= (phase == PREFLOW ? preflow_ms : phase == BURNBACK ? burnback_ms : postflow_ms);
    switch (phase) {
    case IDLE:
        if (held && !held_before) {
            go_to(PREFLOW, now_ms);
        }
        break;
    case PREFLOW:
        if (!held) {
            go_to(IDLE, now_ms);
        } else if (over) {
            go_to(WELD, now_ms);
        }
        break;
    case WELD:
        if (!held) {
            go_to(BURNBACK, now_ms);
        }
        break;
    case BURNBACK:
        if (over) {
            go_to(POSTFLOW, now_ms);
        }
        break;
    case POSTFLOW:
        if (over) {
            go_to(IDLE, now_ms);
        }
        break;
    }
    answer();
}
