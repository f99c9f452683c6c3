#!/usr/bin/env python3
"""Draws what the program said as a terminal, for the readme: draw_terminal.py COMMAND < OUTPUT > PICTURE.svg

    build/emberline rehearse scenarios/eight-hour-firing.yaml |
      tests/support/draw_terminal.py 'build/emberline rehearse scenarios/eight-hour-firing.yaml' > scenarios/demo.svg

Leaves out the first minutes of the journal and the cautions at the end; says so with a line of dots.
"""
import html
import re
import sys

WIDTH, LINE, SIZE = 880, 16, 13


def lines_of(command, text):
    lines = [f"$ {command}"]
    skipping = False
    for line in text.rstrip("\n").split("\n"):
        if line.startswith("A simulation:"):
            break
        early = re.match(r" *0:00:\d\d\.", line) or (skipping and line.startswith(" " * 40))
        if early and not skipping:
            lines.append("   ...")
        skipping = bool(early)
        if not early:
            lines.append(line)
    while not lines[-1]:
        lines.pop()
    return lines


def colour(line):
    word = line.strip().split(" ")[0]
    return {"$": "#8a8f98", "PASS": "#2e7d32", "PASSED": "#2e7d32", "FAIL": "#b71c1c", "FAILED": "#b71c1c"}.get(word, "#24292f")


def kept(line):
    """With spaces that stay: not every browser keeps ordinary ones for xml:space."""
    return html.escape(line).replace(" ", "\u00a0")


def main():
    lines = lines_of(sys.argv[1], sys.stdin.read())
    height = LINE * len(lines) + 2 * LINE
    print(f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH}" height="{height}" viewBox="0 0 {WIDTH} {height}" role="img">')
    print(f'<title>{html.escape(lines[0][2:])}</title>')
    print(f'<rect width="{WIDTH}" height="{height}" rx="6" fill="#f6f8fa" stroke="#d0d7de"/>')
    print(f'<g font-family="ui-monospace, Menlo, Consolas, monospace" font-size="{SIZE}" xml:space="preserve">')
    for number, line in enumerate(lines):
        weight = ' font-weight="bold"' if colour(line) not in ("#24292f", "#8a8f98") else ""
        if line:
            print(f'<text x="16" y="{LINE * (number + 2) - 4}" fill="{colour(line)}"{weight}>{kept(line)}</text>')
    print("</g></svg>")


if __name__ == "__main__":
    main()
