"""`python -m wirecue`."""

from wirecue.cli import main

if __name__ == "__main__":
    main(prog_name="wirecue")
