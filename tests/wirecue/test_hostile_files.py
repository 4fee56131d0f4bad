"""Files that no design is: one screen of words, at once, whatever is in them and whatever they are."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.conftest import ROOT
from tests.support.running import run, shop

MOST_LINES = 25
MOST_CPU_S = 1.0
MOST_MB = 200
ADDRESS_SPACE_MB = 2_000
"""Libraries reserve far more than they use; what is used is bounded by MOST_MB."""
SHOP = (ROOT / "examples" / "shop_two_step.toml").read_text()
TEXTS = {
    "integer of 150,000 digits": f"a = {'1' * 150_000}",
    "integer of 5,000 digits": f"a = {'1' * 5_000}",
    "hexadecimal of 150,000 digits": f"a = 0x{'f' * 150_000}",
    "header of 60,000 tables": f"[{'.'.join(['a'] * 60_000)}]",
    "header of 900 tables": f"[{'.'.join(['a'] * 900)}]",
    "60,000 dotted keys": "".join(f"a.b{number} = 1\n" for number in range(15_000)),
    "a key of 60,000 parts": f"{'.'.join(['a'] * 60_000)} = 1",
    "a key of 120 parts": f"{'.'.join(['a'] * 120)} = 1",
    "2,000 unknown keys": SHOP + "[more]\n" + "".join(f"k{number} = 1\n" for number in range(2_000)),
    "15,000 unknown keys": "".join(f"k{number} = 1\n" for number in range(15_000)),
    "400 unknown keys": SHOP + "[more]\n" + "".join(f"k{number} = 1\n" for number in range(400)),
    "400 unknown keys at the top": "".join(f"k{number} = 1\n" for number in range(400)) + SHOP,
    "arrays in arrays": f"a = {'[' * 60_000}",
    "tables in tables": "a = " + "{ a = " * 20_000,
    "strings that never end": '"""' * 60_000,
    "quotes": '"' * 199_999,
    "other quotes": "'" * 199_999,
    "backslashes": 'a = "' + "\\" * 199_000,
    "equals signs": "=" * 199_999,
    "brackets": "[" * 199_999,
    "dots": "." * 199_999,
    "empty lines": "\n" * 199_999,
    "a quantity of 100,000 digits": SHOP.replace('"25 ms"', f'"{"1" * 100_000} ms"', 1),
    "a unit of 100,000 letters": SHOP.replace('"25 ms"', f'"1 {"m" * 100_000}"', 1),
    "a word of 100,000 letters": SHOP.replace('mode = "two-step"', f'mode = "{"x" * 100_000}"', 1),
    "a list of 60,000 numbers": "title = [" + "1," * 60_000 + "]",
    "a key of 100,000 letters in quotes": f'"{"k" * 100_000}" = 1',
    "a key that moves the cursor": '"\\u001b[2J\\u0007\\n" = 1',
    "a number without end": f"a = 1e{'9' * 90}",
    "control characters": "a = 1 \x1b[31m\x00\x07",
}
CHILD = """
import json, resource, sys, time
resource.setrlimit(resource.RLIMIT_AS, ({address_space}, {address_space}))
resource.setrlimit(resource.RLIMIT_CPU, (120, 120))
from click.testing import CliRunner
from wirecue.cli import main
results = {{}}
for path in json.load(sys.stdin):
    before = time.process_time()
    result = CliRunner().invoke(main, ["check", path])
    known = result.exception is None or isinstance(result.exception, SystemExit)
    results[path] = [result.exit_code, result.output, time.process_time() - before, known]
# Of this program alone: what getrusage tells begins with the peak of whoever started it.
peak_mb = int(open("/proc/self/status").read().partition("VmHWM:")[2].split()[0]) / 1024
json.dump({{"results": results, "peak_mb": peak_mb}}, sys.stdout)
"""


@pytest.fixture(scope="module")
def checked(tmp_path_factory):
    """Every hostile file given to `check`, in one process with bounds of its own."""
    folder = tmp_path_factory.mktemp("hostile")
    files = {}
    for name, text in TEXTS.items():
        files[name] = folder / f"{len(files)}.toml"
        files[name].write_bytes(text.encode())
    os.mkfifo(folder / "pipe")
    (folder / "folder").mkdir()
    with (folder / "huge").open("wb") as file:
        file.truncate(50_000_000_000)
    files |= {name: folder / name for name in ("pipe", "folder", "huge")}
    files |= {"device": Path("/dev/zero"), "terminal": Path("/dev/tty"), "memory": Path("/proc/self/mem")}
    (folder / "loop").symlink_to("loop")
    files["link to itself"] = folder / "loop"
    child = subprocess.run(
        [sys.executable, "-c", CHILD.format(address_space=ADDRESS_SPACE_MB << 20)],
        input=json.dumps([str(path) for path in files.values()]),
        capture_output=True,
        text=True,
        check=True,
        cwd=ROOT,
        # Not the environment as a library of the test's own process may have changed it, with a terminal's width.
        env=dict(os.environ),
        timeout=300,
    )
    made = json.loads(child.stdout)
    return {name: made["results"][str(path)] for name, path in files.items()}, made["peak_mb"]


@pytest.mark.parametrize("name", [*TEXTS, "pipe", "folder", "huge", "device", "terminal", "memory", "link to itself"])
def test_one_screen_at_once(checked, name):
    code, output, cpu_s, known = checked[0][name]
    assert known, "a traceback"
    assert code == 2
    lines = output.splitlines()
    assert 2 <= len(lines) <= MOST_LINES
    assert max(map(len, lines)) < 600
    assert output.replace("\n", "").isprintable()
    assert cpu_s < MOST_CPU_S


def test_all_of_them_together_take_little_memory(checked):
    assert checked[1] < MOST_MB


def test_what_was_found_and_where_is_told(checked):
    said = {name: result[1] for name, result in checked[0].items()}
    assert (
        "line 1\n  found    a number or word of 5000 characters: 11111111111111111111..."
        in said["integer of 5,000 digits"]
    )
    assert "line 601\n  found    more than 600 keys\n  allowed  at most 600" in said["15,000 unknown keys"]
    assert "... and 395 more of the kind" in said["400 unknown keys at the top"]
    assert said["a key that moves the cursor"].splitlines()[0].endswith(r"line 1: \x1b[2J\x07\n")
    assert "(100005 characters)" in said["a quantity of 100,000 digits"]
    assert "found    a pipe" in said["pipe"]
    assert "found    a device" in said["device"]
    assert "a folder" in said["folder"]
    assert "a file of 50000000000 bytes" in said["huge"]


def test_a_mark_of_the_editor_before_the_text_is_accepted_everywhere(tmp_path):
    path = shop(tmp_path)
    path.write_bytes(b"\xef\xbb\xbf" + path.read_bytes())
    for words in (("check", path), ("simulate", path), ("advise", path, "--write")):
        assert run(*words).exit_code == 0
    path.write_bytes(b"\xef\xbb\xbf" + path.read_bytes().replace(b'"25 ms"', b'"25 mss"', 1))
    result = run("check", path)
    assert result.exit_code == 2
    assert f"line {path.read_text().split('25 mss')[0].count(chr(10)) + 1}:" in result.stderr


def test_text_in_another_code_is_told_with_its_line(tmp_path):
    path = shop(tmp_path)
    text = path.read_text()
    path.write_bytes(text.encode("utf-16"))
    assert "save it as UTF-8" in run("check", path).stderr
    path.write_bytes(text.encode() + "# µ\n".encode("latin-1"))
    result = run("check", path)
    assert result.exit_code == 2
    assert f"line {text.count(chr(10)) + 1}\n  found    bytes that are not UTF-8 text" in result.stderr


@pytest.mark.parametrize(
    "name", ["a\x1b[31mred.toml", "two\nlines.toml", "bell\x07.toml", "\u202eoml.toml", "b\udcff.toml"]
)
def test_a_file_name_is_shown_escaped(tmp_path, name):
    path = tmp_path / name
    path.write_text("a = 1")
    for words in (("check", path), ("check", tmp_path / f"gone {name}"), ("build", path), ("advise", path, "--write")):
        result = run(*words)
        assert result.exit_code == 2
        assert result.output.replace("\n", "").isprintable()
        assert "\\" in result.output.splitlines()[0]
