/*
 * The sketch: one pass after the other, and nothing in them waits.
 *
 * spot_stitch, design 87d79af519c50507, made by wirecue 0.0.0.
 * Made from the design file: change that and build again, so that board, bench and papers keep agreeing.
 */

/*
 * The files of this folder:
 *
 *   settings.h
 *     Pins and times of this design, with units: the one file of the sketch that its owner may change.
 *
 * Everything else follows from the design. Not to be changed; change the design file and build again:
 *
 *   spot_stitch.ino
 *     The sketch: setup() once, then loop() for ever.
 *   board.h, board.cpp
 *     What the portable files ask of the board. Nothing here waits.
 *   compiler.h
 *     Hints for the compiler, which would otherwise decide by size alone. They change nothing but size and speed.
 *   control.h, control.c
 *     From contacts and readings to outputs: filters, dials, supply and sequence together. Portable C99.
 *   derived.h
 *     What follows from settings.h, and what it must keep to. Nothing to change here.
 *   dials.h, dials.c
 *     The dials: from readings of the converter to times. Portable C99.
 *   filter.h, filter.c
 *     The filter between a contact and the sequence. Portable C99.
 *   flash.h
 *     Constants that stay in flash: on AVR they need their own way of reading.
 *   forced.h, forced.c
 *     States forced from the bench, in the place of pins and readings. Portable C99.
 *   identity.h
 *     Who the board says it is, and whether settings.h still has the numbers of its design. Nothing to change here.
 *   lamp.h, lamp.c
 *     The status lamp. Portable C99.
 *   link.h, link.c
 *     The serial link: IEEE 488.2 and SCPI-style commands. Portable C99.
 *   link_actions.h, link_actions.c
 *     What each command of the serial link does and answers. Portable C99.
 *   link_commands.h
 *     The commands and errors of the serial link, in flash. For link.c and link_actions.c only.
 *   link_status.h, link_status.c
 *     Error queue and status registers of the serial link, after IEEE 488.2 and SCPI-99. Portable C99.
 *   panel.h, panel.c
 *     Switches of the panel, and the interlock: they count once several looks at them agree. Portable C99.
 *   port.h, port.cpp
 *     The serial port as the link sees it. Nothing here waits.
 *   received.h, received.c
 *     What a hardware port received and the link has not taken yet. Portable C99.
 *   reset.h
 *     Why the board started. The numbers travel over the serial link.
 *   sequence.h, sequence.c
 *     The sequence of this design: phases, what they see, what they keep. Portable C99.
 *   supply.h, supply.c
 *     The supply sense: low after its filter, good from a higher threshold on. Portable C99.
 *   trace.h, trace.c
 *     The edge trace: what the board itself saw and did, and when. Portable C99.
 */
#include "board.h"
#include "control.h"
#include "lamp.h"
#include "link.h"
#include "panel.h"
#include "port.h"

void setup() {
    board_start();
    panel_start(board_contacts());
    control_start(board_now_us());
    lamp_start(board_reset_cause());
    link_start(board_bench_link());
}

void loop() {
    const uint32_t now_us = board_now_us();
    board_refresh();
    board_alive(now_us);
    port_poll();
    board_switch(control_step(panel_read(board_contacts(), now_us), now_us));
    /* One thing a pass, so that none is long: a change, a reading, or lamp and a piece of talk. */
    if (control_note(board_outputs(), now_us)) {
        board_keep_fault(control_fault());
        return;
    }
    uint8_t reading;
    uint16_t counts;
    if (board_reading(&reading, &counts)) {
        control_reading(reading, counts, now_us);
        return;
    }
    board_lamp(control_lamp(now_us));
    if (board_has_time()) {
        link_step(now_us);
    }
}
