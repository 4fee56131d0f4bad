"""Things that a bad hand, a bad disk or a bad day puts into design files."""

from __future__ import annotations

import random
import re

# Each would do harm somewhere if it came through as it is.
HOSTILE_TEXTS = (
    "*/ int main(void) { for (;;) {} } /*",
    "//*/ #error out \\",
    "??/ ??' *??/",
    '"; #include "/etc/passwd" //',
    "<script>alert(1)</script>",
    "</title></style><svg onload=alert(1)>",
    "]]>&lt;!-- <!ENTITY x SYSTEM 'file:///etc/passwd'> &x; -->",
    '=HYPERLINK("http://x","y")',
    "=cmd|' /C calc'!A0",
    "@SUM(1+1)",
    "+1;-1,\"'",
    "$(touch /tmp/x) `id` ; rm -rf ~ | %n%s%x ${IFS}",
    "../../../etc/cron.d/x",
    "C:\\CON\\..\\x %COMSPEC%",
    "{{ 7 * 7 }} {% raw %} ${x} #{x}",
    "ｓｃｒｉｐｔ аеор Ω µ ½ \u200f\u200e\u061c",
    "'''\"\"\" \\N{BULLET} \\x41 \\",
    "e\u0301\u0327" * 8,
    "\U0001f525 𝒜 ﷽",
)
HOSTILE_NAMES = (
    "Shop",
    "../up",
    "a/b",
    "a\\b",
    "con",
    "com1",
    "a b",
    "a;b",
    "a*/",
    "<b>",
    "=a",
    "аbc",
    "abc\n",
    "",
    "1a",
    "_a",
    "a" * 32,
    "a\x00",
    "ａbc",
    "a.toml",
)
_VALUES = (
    *(
        "",
        '""',
        "0",
        "-1",
        "nan",
        "inf",
        "1e309",
        "[]",
        "{}",
        "true",
        "99999999999999999999999",
        "1979-05-27",
        "'''x'''",
    ),
    *(
        '"1e309 ms"',
        '"-1 V"',
        '"NaN s"',
        '"１２ ms"',
        '"1,5 s"',
        '"9**9**9 s"',
        '"1_000 ms"',
        '"0x10 ms"',
        '"5 parsec"',
    ),
    *('"5"', f'"{"a" * 5_000}"', '"\\ud800"', '"\\u202e"', "{ a = { b = { c = 1 } } }"),
    '{ from = "1 s", to = "0 s", setting = "2 s" }',
)


def mutated(text: str, seed: int) -> bytes:
    """Return a design file with one to three things wrong, at the level of bytes or of keys and values."""
    rng = random.Random(seed)
    content = text.encode()
    for _ in range(rng.randrange(1, 4)):
        content = rng.choice((_bytes, _token, _token))(content, rng)
    return content


def _bytes(content: bytes, rng: random.Random) -> bytes:
    at = rng.randrange(len(content) + 1)
    until = min(at + rng.choice((1, 1, 2, 40)), len(content))
    piece = content[at:until]
    new = rng.choice(
        (
            b"",
            piece * 2,
            piece[::-1],
            rng.randbytes(max(len(piece), 1)),
            rng.choice((b"\x00", b"\xff", b'"', b"=", b"[", b"]", b"\n", b"\r", b"#", b"\xef\xbb\xbf")),
        )
    )
    return content[:at] + new + content[until:]


def _token(content: bytes, rng: random.Random) -> bytes:
    lines = content.split(b"\n")
    at = rng.randrange(len(lines))
    other = rng.randrange(len(lines))
    change = rng.randrange(5)
    if change == 0:
        del lines[at]
    elif change == 1:
        lines.insert(other, lines[at])
    elif change == 2:
        lines[at], lines[other] = lines[other], lines[at]
    elif change == 3:
        lines[at] = re.sub(rb"= .*", b"= " + rng.choice(_VALUES).encode().replace(b"\\", b"\\\\"), lines[at], count=1)
    else:
        lines[at] = re.sub(rb'"[^"]*"', rng.choice(_VALUES).encode().replace(b"\\", b"\\\\"), lines[at], count=1)
    return b"\n".join(lines) or b"\n"
