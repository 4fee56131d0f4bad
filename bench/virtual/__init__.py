"""A board that is all model: the serial link on top of the phase table, no compiler needed."""
