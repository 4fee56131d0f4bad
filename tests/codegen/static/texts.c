/*
 * Every read of a text in flash stays inside it, for Frama-C's value analysis: at each place of each word and of each
 * answer one step is taken, whatever stands in the line; it reads inside, and leaves a place that is inside. So no
 * number of steps leads out.
 */
#include <stdbool.h>
#include <stdint.h>

#include "__fc_builtin.h"
#include "link.c"

#include "control.h"

static bool any_bool(void) { return (bool)Frama_C_interval(0, 1); }
static uint8_t any_u8(void) { return (uint8_t)Frama_C_interval(0, 255); }

bool port_can_send(void) { return any_bool(); }
void port_send(char character) { (void)character; }
uint8_t port_receive(char *character) { (void)character; return PORT_NOTHING; }

static void one_match(uint8_t word, const char *place) {
    task = MATCH;
    work.header.word = word;
    work.header.text = place;
    work.header.node = any_u8();
    work.header.from = any_u8();
    position = any_u8();
    match_character();
    if (task == MATCH) {
        const bool known = work.header.word < WORDS;
        /*@ assert word_is_known: known != 0; */
        /*@ assert still_in_a_word: \valid_read(work.header.text); */
    }
}

static void every_word(void) {
    //@ loop unroll 255;
    for (uint8_t word = 0; word < WORDS; word++) {
        const char *place = words[word].text;
        bool more = place != NULL;
        //@ loop unroll 64;
        while (more) {
            more = *place != '\0';
            one_match(word, place);
            place++;
        }
    }
}

static void every_place(const char *place) {
    bool more = true;
    //@ loop unroll 128;
    while (more) {
        more = *place != '\0';
        task = ANSWER;
        work.reply.answer.text = place;
        send_text();
        if (task == ANSWER) {
            /*@ assert still_in_the_answer: \valid_read(work.reply.answer.text); */
        }
        place++;
    }
}

static void every_answer(void) {
    const uint16_t parameters[MOST_PARAMETERS] = {0};
    //@ loop unroll 255;
    for (uint8_t number = 0; number < COMMAND_COUNT; number++) {
        link_carry_out(number, parameters, true, 0, &work.reply.answer);
        if (work.reply.answer.text != NULL) {
            every_place(work.reply.answer.text);
        }
    }
    //@ loop unroll 255;
    for (uint8_t error = ERROR_NONE; error <= ERROR_QUEUE_OVERFLOW; error++) {
        status_clear();
        status_error(error);
        every_place(status_next_error());
    }
}

int main(void) {
    Frama_C_make_unknown(line, sizeof line);
    every_word();
    every_answer();
    return 0;
}
