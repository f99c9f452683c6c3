#!/usr/bin/env python3
"""Counts what a ctest run passed and failed: tally.py JUNIT.xml prints "PASSED FAILED LEFT-OUT".

An executable of many test cases counts with its cases, as its own summary line gives them; one that failed
without such a line (it crashed, or ran out of time) counts as one failure, any other test as one. Left out are those
that said themselves that they cannot run here (SKIP_RETURN_CODE); one that could not be started has failed.
"""
import re
import sys
import xml.etree.ElementTree as ElementTree

SUMMARY = re.compile(r"\[doctest\] test cases:\s*\d+\s*\|\s*(\d+) passed\s*\|\s*(\d+) failed")


def tally(path):
    passed = failed = left_out = 0
    for case in ElementTree.parse(path).getroot().iter("testcase"):
        skipped = case.find("skipped")
        if skipped is not None and skipped.get("message", "").startswith("SKIP_"):
            left_out += 1
            continue
        ended_well = case.get("status") == "run"
        output = "".join(case.itertext())
        summary = SUMMARY.search(output)
        if summary:
            good, bad = int(summary.group(1)), int(summary.group(2))
            if not ended_well and bad == 0:
                bad = 1  # all cases passed, and then it ended badly: a leak, a race
        else:
            good, bad = (1, 0) if ended_well else (0, 1)
        passed += good
        failed += bad
    return passed, failed, left_out


if __name__ == "__main__":
    print(*tally(sys.argv[1]))
