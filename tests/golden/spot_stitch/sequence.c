/*
 * The sequence of this design, one case a phase. Portable C99: no board header, no floats, no heap.
 *
 * spot_stitch, design 87d79af519c50507, made by wirecue 0.0.0.
 * Made from the design file: change that and build again, so that board, bench and papers keep agreeing.
 */

#include "sequence.h"

#include "compiler.h"
#include "derived.h"

/* Passes through more phases than this in one go are an impossible state. */
#define MOST_HOPS 10u

/* Contacts that have just closed. A press serves once: what asks for it uses it up. */
typedef struct {
    bool press;
    bool purge_press;
} presses;

/* Tells whether limit_us has passed since since_us. Holds across the wrap of the clock. */
static bool over(uint32_t since_us, uint32_t limit_us, uint32_t now_us) {
    return (uint32_t)(now_us - since_us) >= limit_us;
}

/* A low supply is never a good one. */
static bool supply_poor(const sequence_inputs *inputs) {
    return inputs->supply_low || inputs->supply_poor;
}

/* Watches the arc sensor. Tells whether an arc stays although the contactor, as the pass before left it, has been off
 * for longer than an arc can last: it is welded, or the sensor is stuck. */
static bool arc_stays(sequence_state *state, const sequence_inputs *inputs, uint32_t now_us) {
    if (!inputs->arc) {
        state->arc_seen_open = true;
    }
    if (state->phase == PHASE_WELD || state->phase == PHASE_BURNBACK) {
        state->contactor_on_us = now_us;
        return false;
    }
    if (!over(state->contactor_on_us, ARC_END_US, now_us)) {
        return false;
    }
    /* Kept just over, so that it stays so when the clock goes round. */
    state->contactor_on_us = now_us - ARC_END_US;
    return inputs->arc;
}

/* Tells whether the present phase's time is over. */
ONE_COPY static bool time_over(const sequence_state *state, uint32_t now_us) {
    return over(state->since_us, state->duration_us, now_us);
}

/* The instant from which the next phase counts once this one's time is over: when it was due, so that passes do not
 * add up; after a stall now, so that no phase is cut short. */
ONE_COPY static uint32_t due_us(const sequence_state *state, uint32_t now_us) {
    const uint32_t due = state->since_us + state->duration_us;
    return (uint32_t)(now_us - due) <= STALL_US ? due : now_us;
}

/* Lets the present phase's time count from at_us, with the time as its dial stands now. */
static void restart(sequence_state *state, const sequence_inputs *inputs, uint32_t at_us) {
    state->since_us = at_us;
    switch (state->phase) {
    case PHASE_HOLD_OFF:
        state->duration_us = state->settled ? OPEN_US : SETTLE_US;
        break;
    case PHASE_PREFLOW:
        state->duration_us = PREFLOW_US;
        break;
    case PHASE_WELD:
        state->duration_us = inputs->spot_us;
        break;
    case PHASE_BURNBACK:
        state->duration_us = inputs->burnback_us;
        break;
    case PHASE_POSTFLOW:
        state->duration_us = POSTFLOW_US;
        break;
    case PHASE_PAUSE:
        state->duration_us = inputs->pause_us;
        break;
    case PHASE_PURGE:
        state->duration_us = PURGE_LIMIT_US;
        break;
    default:
        state->duration_us = 0;
        break;
    }
}

/* Takes over what must not change in the middle of a weld. Spot and stitch are two-step work. */
static void latch(sequence_state *state, const sequence_inputs *inputs) {
    state->spot = inputs->spot;
    state->stitch = inputs->stitch && inputs->spot;
}

ONE_COPY static void enter(sequence_state *state, const sequence_inputs *inputs, uint8_t phase, uint32_t at_us) {
    state->phase = phase;
    switch (phase) {
    case PHASE_HOLD_OFF:
        state->all_well = false;
        state->settled = false;
        state->seen_open = false;
        state->limited = false;
        state->arc_seen_open = false;
        break;
    case PHASE_IDLE:
        state->limited = false;
        break;
    case PHASE_PREFLOW:
        latch(state, inputs);
        break;
    case PHASE_WELD:
        state->arc_established = false;
        break;
    case PHASE_BURNBACK:
        state->pressed_again = false;
        break;
    case PHASE_POSTFLOW:
        state->arc_seen_open = false;
        break;
    case PHASE_PAUSE:
        state->arc_seen_open = false;
        break;
    default:
        break;
    }
    restart(state, inputs, at_us);
}

static presses fresh_presses(sequence_state *state, const sequence_inputs *inputs) {
    presses fresh;
    fresh.press = inputs->trigger && !state->trigger_was;
    fresh.purge_press = inputs->purge && !state->purge_was;
    state->trigger_was = inputs->trigger;
    state->purge_was = inputs->purge;
    return fresh;
}

void sequence_start(sequence_state *state, uint32_t now_us) {
    state->phase = PHASE_HOLD_OFF;
    state->fault = FAULT_NONE;
    state->since_us = now_us;
    state->duration_us = SETTLE_US;
    state->weld_since_us = 0;
    state->contactor_on_us = now_us;
    state->spot = false;
    state->stitch = false;
    state->arc_established = false;
    state->arc_seen_open = false;
    state->pressed_again = false;
    state->limited = false;
    state->all_well = false;
    state->settled = false;
    state->seen_open = false;
    state->trigger_was = true;
    state->purge_was = true;
}

/* In each case: what may happen inside the phase, then its exits in the order fault, release, time over, press.
 * `continue` goes on in the phase just entered, so that a zero time passes straight through. */
uint8_t sequence_step(sequence_state *state, const sequence_inputs *inputs, uint32_t now_us) {
    presses fresh = fresh_presses(state, inputs);
    const bool stays = arc_stays(state, inputs, now_us);
    for (uint8_t hops = 0; hops < MOST_HOPS; hops++) {
        switch (state->phase) {
        case PHASE_HOLD_OFF: /* hold-off: all off; supply good for 500 ms, then trigger and buttons open */
            /* supply not good, supply good and no fault; fault 2, supply */
            if (supply_poor(inputs) && state->all_well) {
                state->fault = FAULT_SUPPLY;
            }
            /* supply not good: not all is well, settle anew, not everything is open */
            if (supply_poor(inputs)) {
                state->all_well = false;
                state->settled = false;
                state->seen_open = false;
            }
            /* supply not good, its time over; fault 2, supply */
            if (supply_poor(inputs) && time_over(state, now_us)) {
                state->fault = FAULT_SUPPLY;
            }
            /* supply good, an arc stays with the contactor off: not all is well, settle anew, not everything is open; fault 9, arc stays */
            if (!supply_poor(inputs) && stays) {
                state->all_well = false;
                state->settled = false;
                state->seen_open = false;
                state->fault = FAULT_ARC_STAYS;
            }
            /* supply good, no arc stays, a dial broken or shorted: not all is well, settle anew, not everything is open; fault 4, dial */
            if (!supply_poor(inputs) && !stays && inputs->dial_fault) {
                state->all_well = false;
                state->settled = false;
                state->seen_open = false;
                state->fault = FAULT_DIAL;
            }
            /* not yet seen well, supply good, no arc stays, dials sound: all is well from here, the time counts from here */
            if (!state->all_well && !supply_poor(inputs) && !stays && !inputs->dial_fault) {
                state->all_well = true;
                restart(state, inputs, now_us);
            }
            /* supply good and no fault, supply not yet settled, its time over: the supply is settled */
            if (state->all_well && !state->settled && time_over(state, now_us)) {
                state->settled = true;
            }
            /* trigger closed: not everything is open */
            if (inputs->trigger) {
                state->seen_open = false;
            }
            /* purge button closed: not everything is open */
            if (inputs->purge) {
                state->seen_open = false;
            }
            /* supply settled, not yet seen open, trigger open, purge button open: everything is open from here, the time counts from here */
            if (state->settled && !state->seen_open && !inputs->trigger && !inputs->purge) {
                state->seen_open = true;
                restart(state, inputs, now_us);
            }
            /* trigger and buttons seen open since, its time over -> idle */
            if (state->seen_open && time_over(state, now_us)) {
                enter(state, inputs, PHASE_IDLE, due_us(state, now_us));
                continue;
            }
            return 0;
        case PHASE_IDLE: /* idle: all off */
            /* supply low -> hold-off; fault 2, supply */
            if (inputs->supply_low) {
                state->fault = FAULT_SUPPLY;
                enter(state, inputs, PHASE_HOLD_OFF, now_us);
                continue;
            }
            /* an arc stays with the contactor off -> hold-off; fault 9, arc stays */
            if (stays) {
                state->fault = FAULT_ARC_STAYS;
                enter(state, inputs, PHASE_HOLD_OFF, now_us);
                continue;
            }
            /* a dial broken or shorted -> hold-off; fault 4, dial */
            if (inputs->dial_fault) {
                state->fault = FAULT_DIAL;
                enter(state, inputs, PHASE_HOLD_OFF, now_us);
                continue;
            }
            /* fresh press -> preflow; clears the fault */
            if (fresh.press) {
                fresh.press = false;
                state->fault = FAULT_NONE;
                enter(state, inputs, PHASE_PREFLOW, now_us);
                continue;
            }
            /* fresh purge -> purge; clears the fault */
            if (fresh.purge_press) {
                state->fault = FAULT_NONE;
                enter(state, inputs, PHASE_PURGE, now_us);
                continue;
            }
            return 0;
        case PHASE_PREFLOW: /* preflow: gas; preflow time */
            /* supply low -> hold-off; fault 2, supply */
            if (inputs->supply_low) {
                state->fault = FAULT_SUPPLY;
                enter(state, inputs, PHASE_HOLD_OFF, now_us);
                continue;
            }
            /* an arc stays with the contactor off -> hold-off; fault 9, arc stays */
            if (stays) {
                state->fault = FAULT_ARC_STAYS;
                enter(state, inputs, PHASE_HOLD_OFF, now_us);
                continue;
            }
            /* a dial broken or shorted -> hold-off; fault 4, dial */
            if (inputs->dial_fault) {
                state->fault = FAULT_DIAL;
                enter(state, inputs, PHASE_HOLD_OFF, now_us);
                continue;
            }
            /* trigger open -> idle */
            if (!inputs->trigger) {
                enter(state, inputs, PHASE_IDLE, now_us);
                continue;
            }
            /* its time over -> weld: the weld limit counts from here */
            if (time_over(state, now_us)) {
                const uint32_t at_us = due_us(state, now_us);
                state->weld_since_us = at_us;
                enter(state, inputs, PHASE_WELD, at_us);
                continue;
            }
            return OUTPUT_GAS;
        case PHASE_WELD: /* weld: gas, wire, contactor; spot weld time */
            /* arc not yet established, arc seen open since the contactor was last off, arc sensed: the arc is established, the time, as it stands, counts from here */
            if (!state->arc_established && state->arc_seen_open && inputs->arc) {
                state->arc_established = true;
                state->since_us = now_us;
            }
            /* supply low -> hold-off; fault 2, supply */
            if (inputs->supply_low) {
                state->fault = FAULT_SUPPLY;
                enter(state, inputs, PHASE_HOLD_OFF, now_us);
                continue;
            }
            /* trigger open -> burnback */
            if (!inputs->trigger) {
                enter(state, inputs, PHASE_BURNBACK, now_us);
                continue;
            }
            /* spot on, arc established, its time over -> burnback */
            if (state->spot && state->arc_established && time_over(state, now_us)) {
                enter(state, inputs, PHASE_BURNBACK, due_us(state, now_us));
                continue;
            }
            /* weld limit over -> burnback: nothing starts before the trigger was seen open; fault 5, weld limit */
            if (over(state->weld_since_us, WELD_LIMIT_US, now_us)) {
                state->limited = true;
                state->fault = FAULT_WELD_LIMIT;
                enter(state, inputs, PHASE_BURNBACK, now_us);
                continue;
            }
            /* arc not yet established, arc-start limit over -> burnback: nothing starts before the trigger was seen open; fault 6, arc start */
            if (!state->arc_established && over(state->since_us, ARC_START_LIMIT_US, now_us)) {
                state->limited = true;
                state->fault = FAULT_ARC_START;
                enter(state, inputs, PHASE_BURNBACK, now_us);
                continue;
            }
            return OUTPUT_GAS | OUTPUT_WIRE | OUTPUT_CONTACTOR;
        case PHASE_BURNBACK: /* burnback: gas, contactor; burnback time */
            /* fresh press: remember the press */
            if (fresh.press) {
                fresh.press = false;
                state->pressed_again = true;
            }
            /* trigger open: forget the press */
            if (!inputs->trigger) {
                state->pressed_again = false;
            }
            /* supply low -> hold-off; fault 2, supply */
            if (inputs->supply_low) {
                state->fault = FAULT_SUPPLY;
                enter(state, inputs, PHASE_HOLD_OFF, now_us);
                continue;
            }
            /* its time over, stitch on, trigger closed, no limit ended the weld, dials sound -> pause */
            if (time_over(state, now_us) && state->stitch && inputs->trigger && !state->limited && !inputs->dial_fault) {
                enter(state, inputs, PHASE_PAUSE, due_us(state, now_us));
                continue;
            }
            /* its time over, pressed again and still held, no limit ended the weld, dials sound -> weld: the weld limit counts from here */
            if (time_over(state, now_us) && state->pressed_again && !state->limited && !inputs->dial_fault) {
                const uint32_t at_us = due_us(state, now_us);
                state->weld_since_us = at_us;
                enter(state, inputs, PHASE_WELD, at_us);
                continue;
            }
            /* its time over -> postflow */
            if (time_over(state, now_us)) {
                enter(state, inputs, PHASE_POSTFLOW, due_us(state, now_us));
                continue;
            }
            return OUTPUT_GAS | OUTPUT_CONTACTOR;
        case PHASE_POSTFLOW: /* postflow: gas; postflow time */
            /* supply low -> hold-off; fault 2, supply */
            if (inputs->supply_low) {
                state->fault = FAULT_SUPPLY;
                enter(state, inputs, PHASE_HOLD_OFF, now_us);
                continue;
            }
            /* an arc stays with the contactor off -> hold-off; fault 9, arc stays */
            if (stays) {
                state->fault = FAULT_ARC_STAYS;
                enter(state, inputs, PHASE_HOLD_OFF, now_us);
                continue;
            }
            /* its time over, trigger open -> idle */
            if (time_over(state, now_us) && !inputs->trigger) {
                enter(state, inputs, PHASE_IDLE, due_us(state, now_us));
                continue;
            }
            /* its time over -> await-release */
            if (time_over(state, now_us)) {
                enter(state, inputs, PHASE_AWAIT_RELEASE, due_us(state, now_us));
                continue;
            }
            /* fresh press, no limit ended the weld, dials sound -> weld: latch trigger mode, spot and stitch, the weld limit counts from here; clears the fault */
            if (fresh.press && !state->limited && !inputs->dial_fault) {
                fresh.press = false;
                latch(state, inputs);
                state->weld_since_us = now_us;
                state->fault = FAULT_NONE;
                enter(state, inputs, PHASE_WELD, now_us);
                continue;
            }
            return OUTPUT_GAS;
        case PHASE_PAUSE: /* pause: gas; stitch pause time */
            /* supply low -> hold-off; fault 2, supply */
            if (inputs->supply_low) {
                state->fault = FAULT_SUPPLY;
                enter(state, inputs, PHASE_HOLD_OFF, now_us);
                continue;
            }
            /* an arc stays with the contactor off -> hold-off; fault 9, arc stays */
            if (stays) {
                state->fault = FAULT_ARC_STAYS;
                enter(state, inputs, PHASE_HOLD_OFF, now_us);
                continue;
            }
            /* trigger open -> postflow */
            if (!inputs->trigger) {
                enter(state, inputs, PHASE_POSTFLOW, now_us);
                continue;
            }
            /* weld limit over -> postflow: nothing starts before the trigger was seen open; fault 5, weld limit */
            if (over(state->weld_since_us, WELD_LIMIT_US, now_us)) {
                state->limited = true;
                state->fault = FAULT_WELD_LIMIT;
                enter(state, inputs, PHASE_POSTFLOW, now_us);
                continue;
            }
            /* a dial broken or shorted -> postflow */
            if (inputs->dial_fault) {
                enter(state, inputs, PHASE_POSTFLOW, now_us);
                continue;
            }
            /* its time over -> weld */
            if (time_over(state, now_us)) {
                enter(state, inputs, PHASE_WELD, due_us(state, now_us));
                continue;
            }
            return OUTPUT_GAS;
        case PHASE_AWAIT_RELEASE: /* await-release: all off */
            /* supply low -> hold-off; fault 2, supply */
            if (inputs->supply_low) {
                state->fault = FAULT_SUPPLY;
                enter(state, inputs, PHASE_HOLD_OFF, now_us);
                continue;
            }
            /* an arc stays with the contactor off -> hold-off; fault 9, arc stays */
            if (stays) {
                state->fault = FAULT_ARC_STAYS;
                enter(state, inputs, PHASE_HOLD_OFF, now_us);
                continue;
            }
            /* trigger open -> idle */
            if (!inputs->trigger) {
                enter(state, inputs, PHASE_IDLE, now_us);
                continue;
            }
            return 0;
        case PHASE_PURGE: /* purge: gas; purge limit */
            /* supply low -> hold-off; fault 2, supply */
            if (inputs->supply_low) {
                state->fault = FAULT_SUPPLY;
                enter(state, inputs, PHASE_HOLD_OFF, now_us);
                continue;
            }
            /* an arc stays with the contactor off -> hold-off; fault 9, arc stays */
            if (stays) {
                state->fault = FAULT_ARC_STAYS;
                enter(state, inputs, PHASE_HOLD_OFF, now_us);
                continue;
            }
            /* purge button open -> idle */
            if (!inputs->purge) {
                enter(state, inputs, PHASE_IDLE, now_us);
                continue;
            }
            /* its time over -> idle; fault 7, purge limit */
            if (time_over(state, now_us)) {
                state->fault = FAULT_PURGE_LIMIT;
                enter(state, inputs, PHASE_IDLE, due_us(state, now_us));
                continue;
            }
            /* fresh press -> preflow; clears the fault */
            if (fresh.press) {
                fresh.press = false;
                state->fault = FAULT_NONE;
                enter(state, inputs, PHASE_PREFLOW, now_us);
                continue;
            }
            return OUTPUT_GAS;
        default: /* a phase that this design does not have */
            break;
        }
        break;
    }
    /* An impossible state: everything off, and anew from hold-off. */
    enter(state, inputs, PHASE_HOLD_OFF, now_us);
    state->fault = FAULT_STATE;
    return 0;
}
