/*
 * Runs a program for an RP2040 in a simulator, moves its inputs on cue, and prints what its outputs do.
 *
 *   node run.cjs MODULES PROGRAM.bin      cues on standard input, events on standard output
 *
 * Cues, one a line, in order of their microseconds:
 *   US pin GPIO LEVEL    an input pin, 0 or 1
 *   US adc CHANNEL COUNTS
 *   US uart HEX          bytes that come in, one after the other at the port's pace
 *   US timer FACTOR      the timer runs at that many times its speed from here on: 0 stops it
 *   US converter 0|1     the converter stops, or goes on
 *   US end
 *
 * Events, one a line: `US pin GPIO 0|1|z` when a pin is driven or let go, `US uart HEX`, `US reset`, `US end`.
 *
 * The core runs a tenth as fast as a real one, so that seconds of simulation stay seconds: every pass then takes ten
 * times as long, while timer, converter and watchdog keep to the microsecond.
 */
'use strict';
const { readFileSync } = require('node:fs');
const { createRequire } = require('node:module');
const { join } = require('node:path');

const { Simulator, RP2040, GPIOPinState, ConsoleLogger, LogLevel } = createRequire(
    join(process.argv[2], 'here.cjs'))('rp2040js');

const NS_PER_CYCLE = 80;
const NS_PER_CHARACTER = 86806; // ten bits at 115200 a second
const FLASH = 0x10000000;
const program = readFileSync(process.argv[3]);
const { clock } = new Simulator();
const levels = new Array(30).fill(true); // open contacts, held by the pull-ups
const counts = [0, 0, 0, 0, 0];
const events = [];
let machine;
let waiting = [];
let next_character_ns = 0;
let bitten = false; // by the watchdog

const say = (words) => events.push(`${Math.floor(clock.nanos / 1000)} ${words}`);

function shown(state) {
    return { [GPIOPinState.High]: '1', [GPIOPinState.Low]: '0' }[state] ?? 'z';
}

/* The timer's microseconds: those of the simulation, until its clock is disturbed. */
let factor = 1;
let factor_since_us = 0;
let shift_us = 0;
const timer_us = () => shift_us + (clock.nanos / 1000 - factor_since_us) * factor;
let converter_runs = true;

function disturb(machine) {
    const timer = machine.peripherals[0x40054], reads_timer = timer.readUint32.bind(timer);
    timer.readUint32 = (offset) => offset === 0x28 ? timer_us() >>> 0 : reads_timer(offset);
    const adc = machine.peripherals[0x4004c], reads_adc = adc.readUint32.bind(adc);
    adc.readUint32 = (offset) => reads_adc(offset) & (offset === 0 && !converter_runs ? ~0x100 : ~0);
}

function boot(watchdog_before) {
    machine = new RP2040(clock);
    disturb(machine);
    machine.logger = new ConsoleLogger(LogLevel.Error, false);
    machine.flash.set(program);
    machine.core.VTOR = FLASH;
    machine.core.reset();
    machine.adc.channelValues = counts;
    machine.gpio.forEach((pin, index) => {
        pin.setInputValue(levels[index]);
        pin.addListener((state, before) => {
            if (shown(state) !== shown(before)) {
                say(`pin ${index} ${shown(state)}`);
            }
            // What a pin drives is what it reads.
            pin.setInputValue(shown(state) === 'z' ? levels[index] : shown(state) === '1');
        });
    });
    machine.uart[0].onByte = (byte) => say(`uart ${byte.toString(16).padStart(2, '0')}`);
    const watchdog = machine.peripherals[0x40058];
    if (watchdog_before !== undefined) { // what outlives a reset by the watchdog
        watchdog.scratchData.set(watchdog_before.scratchData);
        watchdog.reason = watchdog_before.reason;
    }
    watchdog.onWatchdogTrigger = () => {
        watchdog.alarm.enable = watchdog.timer.enable = false;
        bitten = true;
    };
}

function run_until(ns) {
    while (clock.nanos < ns) {
        if (waiting.length > 0 && clock.nanos >= next_character_ns) {
            machine.uart[0].feedByte(waiting.shift());
            next_character_ns = clock.nanos + NS_PER_CHARACTER;
        }
        clock.tick(machine.core.executeInstruction() * NS_PER_CYCLE);
        if (bitten) {
            bitten = false;
            say('reset');
            boot(machine.peripherals[0x40058]);
        }
    }
}

function carry_out(what, rest) {
    if (what === 'pin') {
        levels[rest[0]] = rest[1] === '1';
        machine.gpio[rest[0]].setInputValue(levels[rest[0]]);
    } else if (what === 'adc') {
        counts[rest[0]] = Number(rest[1]);
    } else if (what === 'uart') {
        waiting = waiting.concat([...Buffer.from(rest[0], 'hex')]);
    } else if (what === 'timer') {
        shift_us = timer_us();
        factor_since_us = clock.nanos / 1000;
        factor = Number(rest[0]);
    } else if (what === 'converter') {
        converter_runs = rest[0] === '1';
    } else if (what !== 'end') {
        throw new Error(`an unknown cue: ${what}`);
    }
}

boot();
for (const line of readFileSync(0, 'utf8').split('\n').filter(Boolean)) {
    const [us, what, ...rest] = line.split(' ');
    run_until(Number(us) * 1000);
    carry_out(what, rest);
}
say('end');
process.stdout.write(events.join('\n') + '\n');
