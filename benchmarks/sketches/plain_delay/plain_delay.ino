// The job done the plain way, with delay(). Written for the comparison only: it looks at nothing while it waits.
#include <avr/wdt.h>

const uint8_t TRIGGER = 2, GAS = 5, WIRE = 6, CONTACTOR = 7;
const uint8_t PREFLOW_DIAL = A0, BURNBACK_DIAL = A2, POSTFLOW_DIAL = A3;
const unsigned long FILTER_MS = 25;

static bool closed() {
    return digitalRead(TRIGGER) == LOW;
}

static unsigned long dial_ms(uint8_t dial, long from_ms, long to_ms) {
    return static_cast<unsigned long>(map(analogRead(dial), 0, 1023, from_ms, to_ms));
}

static void answer() {
    while (Serial.available() > 0) {
        if (Serial.read() == '\n') {
            Serial.println(digitalRead(GAS));
        }
    }
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
    answer();
    if (!closed()) {
        return;
    }
    delay(FILTER_MS);
    if (!closed()) {
        return;
    }
    digitalWrite(GAS, HIGH);
    delay(dial_ms(PREFLOW_DIAL, 0, 1500));
    digitalWrite(WIRE, HIGH);
    digitalWrite(CONTACTOR, HIGH);
    while (closed()) {
    }
    delay(FILTER_MS);
    digitalWrite(WIRE, LOW);
    delay(dial_ms(BURNBACK_DIAL, 20, 300));
    digitalWrite(CONTACTOR, LOW);
    delay(dial_ms(POSTFLOW_DIAL, 200, 4000));
    digitalWrite(GAS, LOW);
}
