/* Of the board's core: only what the sketch calls, declared as that core has it. */
#pragma once

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif
void setup(void);
void loop(void);
#ifdef __cplusplus
}

class SerialUSB {
  public:
    void begin(unsigned long baud);
    int available();
    int read();
    int availableForWrite();
    size_t write(uint8_t character);
};
extern SerialUSB Serial;
#endif
