/* Included before each file of the sketch: its variables go into sections of their own, so that the fuzzer can put
 * all of them back between two inputs. */
#pragma clang section bss = "sketch_bss" data = "sketch_data"
