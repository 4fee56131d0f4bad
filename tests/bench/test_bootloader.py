"""Boards that speak USB themselves: sent to their bootloader, and waited for."""

from __future__ import annotations

import os
import pty
from contextlib import contextmanager

import pytest

from bench import bootloader, usb_ports
from bench.bootloader import plugged_in_again, sent_to_bootloader, wait_for_port
from bench.errors import PortMissingError
from bench.usb_ports import UsbPort

IDS = ("2341:0036",)


@pytest.fixture(autouse=True)
def quick(monkeypatch):
    monkeypatch.setattr(bootloader, "SETTLES_S", 0)
    monkeypatch.setattr(usb_ports, "LOOKS_EVERY_S", 0.001)


@contextmanager
def port():
    """Yield the name of a port that can be opened."""
    far, near = pty.openpty()
    try:
        yield os.ttyname(near)
    finally:
        os.close(far)
        os.close(near)


def seen(*looks):
    """Return what lists ports: one look after the other, the last one ever after."""
    left = list(looks)
    return lambda: tuple(left.pop(0) if len(left) > 1 else left[0])


def usb(name, usb_id="1A86:7523"):
    return UsbPort(name, "", usb_id)


def test_the_port_that_comes_up_is_the_bootloaders():
    with port() as name:
        looks = seen([usb(name)], [], [usb("/dev/other"), usb("/dev/boot", IDS[0])])
        assert sent_to_bootloader(name, IDS, looks) == "/dev/boot"


def test_a_port_that_went_and_came_back_under_its_old_name_is_the_bootloaders():
    with port() as name:
        assert sent_to_bootloader(name, IDS, seen([usb(name)], [usb(name)], [], [usb(name)])) == name


def test_a_board_that_does_not_go_to_its_bootloader_has_none():
    with port() as name:
        assert sent_to_bootloader(name, IDS, seen([usb(name)]), patience_s=0.02) is None


def test_a_sketchs_port_is_waited_for(monkeypatch):
    asked = []

    def require(name):
        asked.append(name)
        if len(asked) < 3:
            raise PortMissingError(name)

    monkeypatch.setattr(bootloader, "require_present", require)
    wait_for_port("/dev/sketch")
    assert asked == ["/dev/sketch"] * 3


def test_a_port_that_does_not_come_is_waited_for_no_longer_than_that(tmp_path):
    wait_for_port(str(tmp_path / "never"), patience_s=0.01)


@pytest.mark.parametrize(
    ("looks", "again"), [("there gone there", True), ("there gone gone", False), ("there there there", False)]
)
def test_a_board_is_plugged_in_again_when_its_port_has_gone_and_come_back(looks, again, monkeypatch):
    left = looks.split()

    def require(name):
        if (left.pop(0) if len(left) > 1 else left[0]) == "gone":
            raise PortMissingError(name)

    monkeypatch.setattr(bootloader, "require_present", require)
    assert plugged_in_again("/dev/board", 0.05) is again
