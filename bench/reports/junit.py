"""A bench run as JUnit XML, which test servers and editors read."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

from bench.results import Report

# XML 1.0 takes no other characters, not even escaped.
_FORBIDDEN = re.compile("[^\t\n\r -\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def junit_text(report: Report, kind: str = "bench") -> str:
    """Return the run as an XML text; `kind` is the command that made it. Times are seconds on the board's clock."""
    suite = ET.Element(
        "testsuite",
        name=_clean(f"wirecue {kind} {report.design}"),
        tests=str(len(report.results)),
        failures=str(report.failures),
        errors="0",
        skipped="0",
        time=_seconds(sum(result.took_us for result in report.results)),
    )
    properties = ET.SubElement(suite, "properties")
    facts = {"digest": report.digest, "board": report.board, "port": report.port, "firmware": report.firmware}
    for name, value in facts.items():
        ET.SubElement(properties, "property", name=name, value=_clean(value))
    for result in report.results:
        case = ET.SubElement(
            suite,
            "testcase",
            classname=_clean(f"{kind}.{report.design}"),
            name=_clean(result.name),
            time=_seconds(result.took_us),
        )
        if not result.passed:
            failure = ET.SubElement(case, "failure", message=_clean(result.troubles[0]))
            failure.text = _clean("\n".join(result.troubles))
    root = ET.Element("testsuites")
    root.append(suite)
    ET.indent(root)
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + ET.tostring(root, encoding="unicode") + "\n"


def _seconds(duration_us: int) -> str:
    return f"{duration_us / 1e6:.6f}"


def _clean(text: str) -> str:
    return _FORBIDDEN.sub("?", text)
