"""The wheel on a CPython for Windows, under Debian's wine: what a computer without Windows can show of it."""
