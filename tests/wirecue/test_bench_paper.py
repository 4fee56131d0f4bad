"""The bench report as a paper."""

from __future__ import annotations

import re
from html.parser import HTMLParser
from pathlib import Path

import pytest
from click.testing import CliRunner

from bench.compare import BenchReport, CaseResult
from bench.virtual.board import AheadClock, VirtualBoard
from bench.virtual.machine import Faults
from codegen.papers.blocks import paper_html
from timing.sequence.core.table import Output
from wirecue.bench_paper import bench_paper
from wirecue.cli import main

SHOP = Path(__file__).parents[2] / "examples" / "shop_two_step.toml"


def run(*arguments):
    return CliRunner().invoke(main, ["bench", str(SHOP), *map(str, arguments)])


class Words(HTMLParser):
    """Collects the texts of a document, and the addresses that it would fetch."""

    def __init__(self, html):
        super().__init__()
        self.texts, self.addresses = [], []
        self.feed(html)

    def handle_data(self, data):
        self.texts.append(data)

    def handle_starttag(self, tag, attrs):
        self.addresses += [value for name, value in attrs if name in ("src", "href")]


def test_a_run_on_a_virtual_board_becomes_one_document(tmp_path):
    result = run("--virtual", "--case", "weld", "--case", "purge", "--paper", tmp_path / "bench.html")
    assert result.exit_code == 0, result.output
    html = (tmp_path / "bench.html").read_text()
    words = " ".join(Words(html).texts)
    digest = re.search(r"digest (\w{16})", result.stdout)
    assert digest is not None
    for expected in ("Bench report: shop_two_step", "PASS: 2 of 2 cases pass", digest[1], "All 2 cases pass.", "weld"):
        assert expected in words
    assert re.search(r"\bon\s\d+\.\d\s\(\+0\.\d\d\), off\s\d+\.\d\s\(\+0\.\d\d\)", words)
    assert Words(html).addresses == []


def test_what_fails_is_told_and_drawn(monkeypatch, tmp_path):
    class Dead(VirtualBoard):
        def __init__(self, target, version):
            super().__init__(target, version, AheadClock(3_001), faults=Faults(dead=frozenset({Output.WIRE})))

    monkeypatch.setattr("bench.virtual.board.VirtualBoard", Dead)
    assert run("--virtual", "--case", "weld", "--paper", tmp_path / "bench.html").exit_code == 1
    html = (tmp_path / "bench.html").read_text()
    words = " ".join(Words(html).texts)
    for expected in ("FAIL: 0 of 1 cases pass", "wire drive: comes on expected at", "MISSING", "Do not connect"):
        assert expected in words
    assert [address.partition(",")[0] for address in Words(html).addresses] == ["data:image/svg+xml;base64"]


def test_texts_from_outside_are_escaped():
    evil = '<script>alert("x")</script>&amp;'
    report = BenchReport("d", evil, evil, evil, evil, (CaseResult(evil, evil, (evil,)),))
    html = paper_html(bench_paper(report))
    assert "<script" not in html
    assert evil in " ".join(Words(html).texts)


def test_it_may_be_printed_to_the_screen_alone():
    result = run("--virtual", "--case", "tap", "--paper", "-")
    assert result.stdout.startswith("<!DOCTYPE html>")
    assert "All 1 cases pass." in result.stderr


@pytest.mark.parametrize("other", ["--json", "--junit"])
def test_only_one_report_can_be_printed(other):
    result = run("--virtual", "--paper", "-", other, "-")
    assert result.exit_code == 2
    assert "only one of --json, --junit and --paper can be printed" in result.stderr


def test_a_virtual_run_does_not_pass_for_that_of_a_real_board(tmp_path):
    kept = tmp_path / "bench.json"
    assert run("--virtual", "--case", "tap", "--json", kept, "--paper", tmp_path / "bench.html").exit_code == 0
    for text in (kept.read_text(), (tmp_path / "bench.html").read_text()):
        assert "none, a virtual board: the model" in text


def test_a_name_that_ends_in_pdf_makes_pdf(tmp_path):
    assert run("--virtual", "--case", "tap", "--paper", tmp_path / "bench.pdf").exit_code == 0
    assert (tmp_path / "bench.pdf").read_bytes().startswith(b"%PDF-")
