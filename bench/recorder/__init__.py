"""The recorder behind its link: who it is, what it saw, what it presses."""
