"""The wire's end in files that other tools read: the same numbers in each, and no phantom where no arc can burn."""

from __future__ import annotations

import csv
import io
import json
import re

import numpy as np
import pytest
from vcd.reader import TokenKind, tokenize

from codegen.timeline_files import csv_text, timeline_json, vcd_text
from timing.design.loading import load_design, parse_design
from timing.process.wire_track import wire_track
from timing.sequence.core.script import Change, Script
from timing.sequence.simulate import simulate, usual_script

TRACKS = ("extension_mm", "arc_length_mm")


@pytest.fixture
def run(example):
    design = load_design(example)
    return design, simulate(design, usual_script(design))


def test_data_hold_the_tracks_and_what_is_left(run):
    design, timeline = run
    data = json.loads(timeline_json(design, timeline))
    track = wire_track(design, timeline)
    for name, values in zip(TRACKS, (track.extension_mm, track.arc_length_mm), strict=True):
        assert [point["mm"] for point in data["wire"][name]] == pytest.approx(list(values), abs=0.006)
    assert [end["outcome"] for end in data["wire_ends"]] == [end.outcome for end in track.ends]
    assert data["wire_ends"]


def test_every_load_has_a_commanded_and_an_actual_track_and_what_is_not_there_has_none(run):
    design, timeline = run
    found = {track for track in json.loads(timeline_json(design, timeline))["traces"] if track.endswith("_actual")}
    loads = {"wire_drive", "contactor"} | ({"gas_valve"} if design.feeder.gas_valve else set())
    assert found == {f"{load}_actual" for load in loads}
    assert ("gas_valve," in csv_text(design, timeline)) == ("gas_valve" in loads)


def test_table_and_dump_hold_the_same_points_as_the_data(run):
    design, timeline = run
    points = json.loads(timeline_json(design, timeline))["wire"]
    rows = list(csv.DictReader(io.StringIO(csv_text(design, timeline))))
    for name in TRACKS:
        wanted = [(point["at_us"], point["mm"]) for point in points[name]]
        assert [(int(row["time_us"]), float(row["value"])) for row in rows if row["trace"] == name] == wanted
        assert _last_of_each_instant(_dumped(vcd_text(design, timeline), name)) == _last_of_each_instant(wanted)


def _last_of_each_instant(points):
    """What stands after each instant, without repeats."""
    found = []
    for at_us, value in dict(points).items():
        if not found or found[-1][1] != value:
            found.append((at_us, value))
    return found


def _dumped(text, name):
    code, at_us, points = None, 0, []
    for token in tokenize(io.BytesIO(text.encode())):
        if token.kind is TokenKind.VAR and token.var.reference == name:
            code = token.var.id_code
        elif token.kind is TokenKind.CHANGE_TIME:
            at_us = token.time_change
        elif token.kind is TokenKind.CHANGE_REAL and token.real_change.id_code == code:
            points.append((at_us, token.real_change.value))
    return points


def test_where_no_arc_can_burn_there_are_no_tracks_of_the_wire(example):
    text = re.sub(r"(?m)^load_(voltage|current) = .*\n", "", example.read_text())
    text = re.sub(r"(?m)^open_circuit_voltage = .*$", 'open_circuit_voltage = "12 V"', text)
    design = parse_design(text)
    timeline = simulate(design, usual_script(design))
    data = json.loads(timeline_json(design, timeline))
    assert (data["wire"], data["wire_ends"]) == ({}, [])
    assert "extension" not in csv_text(design, timeline) + vcd_text(design, timeline)


def test_the_tracks_never_go_back_in_time(run):
    track = wire_track(*run)
    assert (np.diff(track.time_us) >= 0).all()


def test_the_dump_counts_in_microseconds_to_the_end_of_the_run(run):
    tokens = list(tokenize(io.BytesIO(vcd_text(*run).encode())))
    (scale,) = (token.timescale for token in tokens if token.kind is TokenKind.TIMESCALE)
    assert str(scale) == "1 us"
    last_us = max(token.time_change for token in tokens if token.kind is TokenKind.CHANGE_TIME)
    assert last_us >= run[1].end_us
    switched = [edge.at_us for edge in run[1].edges]
    assert set(switched) <= {token.time_change for token in tokens if token.kind is TokenKind.CHANGE_TIME}


def test_interlock_and_supply_begin_closed_and_good(example):
    text = re.sub(r"(?m)^\[interlock\]\nfitted = .*\n", "", example.read_text())
    design = parse_design(text + "\n[interlock]\nfitted = true\n")
    moved = [(200_000, 0), (300_000, 1)]
    changes = [Change(at_us, name, value) for at_us, value in moved for name in ("interlock", "supply")]
    script = Script(tuple(changes), 2_000_000)
    rows = list(csv.DictReader(io.StringIO(csv_text(design, simulate(design, script)))))
    for name in ("interlock", "supply"):
        found = [(int(row["time_us"]), int(row["value"])) for row in rows if row["trace"] == name]
        assert found == [(0, 1), *moved]
