"""The serial link: its commands, errors and encodings, as tables."""
