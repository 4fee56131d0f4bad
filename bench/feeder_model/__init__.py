"""The machine between the two boards, event by event: what the add-on's outputs work, and what the recorder sees of it.

One truth for boards that are simulated and for boards that are all model. Time is whole microseconds from power-up; a
cause is told by whoever has the boards, its effects come out in order of time and never before it.
"""
