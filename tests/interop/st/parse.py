#!/usr/bin/env python3
"""Says whether files are good Structured Text: parse.py FILE...

All files together are one program. One line for each complaint, FILE:LINE:COLUMN: what; exit 0 if there is none, else 1.
"""
import sys

from st_program import Program


def main():
    texts = {}
    for name in sys.argv[1:]:
        with open(name, encoding="utf-8") as file:
            texts[name] = file.read()
    if not texts:
        print(__doc__.strip().split("\n")[0], file=sys.stderr)
        return 2
    program = Program(texts)
    for line in program.complaints:
        print(line)
    return 1 if program.complaints else 0


if __name__ == "__main__":
    sys.exit(main())
