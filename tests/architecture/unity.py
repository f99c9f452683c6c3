#!/usr/bin/env python3
"""Which sources may be compiled as one: unity.py MOST ROOT ALIKE FILE... prints a line "GROUP FILE" for each.

Sources with a private name in common, or with one that the other uses for something else, never come into one
group. What is private to a file (its unnamed namespace, its aliases) is read from its text, not from a list: a new
name needs no thought. MOST is how many may be in a group. ALIKE are private names, with commas between them, that many
files have and that are made different when these are compiled as one; a file that means something else by such a
name has no line, and is compiled by itself.
"""
import re
import sys
from pathlib import Path

COMMENT_OR_STRING = re.compile(
    r'//[^\n]*|/\*.*?\*/|R"(\w*)\(.*?\)\1"|"(?:\\.|[^"\\\n])*"|(?<![0-9A-Fa-f])\'(?:\\.|[^\'\\\n])+\'', re.S)
INCLUDE = re.compile(r'^#include "([^"]+)"', re.M)
WORD = re.compile(r"[A-Za-z_]\w*")
MEMBER_TYPE = re.compile(r"\b(?:struct|class|enum|using)\s+(\w+)")
MEMBER = re.compile(r"(?:\.|->)\s*(\w+)")
NO_NAME = {"const", "constexpr", "override", "noexcept", "return", "final", "namespace"}


def bare(text):
    """Without comments, texts and directives."""
    text = COMMENT_OR_STRING.sub(lambda m: " " if m.group(0).startswith("/") else '""', text)
    return re.sub(r"^[ \t]*#(?:[^\n]*\\\n)*[^\n]*", "", text, flags=re.M)


def declared(statement):
    """The names that a statement at the level of a namespace declares, as far as its head tells."""
    statement = re.sub(r"\[\[.*?\]\]|\balignas\([^)]*\)", " ", statement).strip()
    while (m := re.match(r"template\s*<", statement)):
        depth, at = 1, m.end()
        while at < len(statement) and depth:
            depth += {"<": 1, ">": -1}.get(statement[at], 0)
            at += 1
        statement = statement[at:].strip()
    if m := re.match(r"using\s+(\w+)\s*=", statement):
        return {m.group(1)}
    if re.match(r"(using|static_assert|friend|extern\s*\"\")\b", statement):
        return set()
    if m := re.match(r"(?:struct|class|union|enum(?:\s+(?:class|struct))?)\s+(\w+)\s*(?:final\b\s*)?(?:[:{;]|$)", statement):
        return {m.group(1)}
    if m := re.search(r"\boperator\s*([^\s\w(]+|\(\))", statement):
        return {"operator" + m.group(1)}
    head = re.split(r"[={;]", statement, maxsplit=1)[0]
    previous = None
    while previous != head:  # arguments of templates tell nothing
        previous = head
        head = re.sub(r"<[^<>]*>", " ", head)
    if m := re.search(r"(?<![\w:])([A-Za-z_]\w*)\s*\(", head):
        return {m.group(1)} - NO_NAME
    words = WORD.findall(re.sub(r"\[[^\]]*\]", " ", head))
    return {words[-1]} - NO_NAME if len(words) > 1 else set()


def private_names(text, every=False):
    """What a source declares and nobody else can see: in unnamed namespaces, static, constants and aliases."""
    names, stack, start, at = set(), [], 0, 0
    while at < len(text):
        c = text[at]
        if c == "{":
            head = text[start:at].strip()
            if re.search(r"\bnamespace(\s+[\w:]+)?\s*$", head):
                stack.append("unnamed" if re.search(r"\bnamespace\s*$", head) else "named")
                start = at + 1
            else:
                depth, end = 1, at + 1  # a body: passed over
                while end < len(text) and depth:
                    depth += {"{": 1, "}": -1}.get(text[end], 0)
                    end += 1
                unscoped = re.match(r"enum\s+(?!class|struct)", head)
                if every or hidden(stack, head):
                    names |= declared(head + "{")
                    if unscoped:
                        names |= set(WORD.findall(text[at:end]))
                at = end
                if not re.match(r"(?:.*=|struct|class|enum|union)", re.sub(r"^template\s*<.*?>\s*", "", head), re.S):
                    start = end
                continue
        elif c == "}":
            if stack:
                stack.pop()
            start = at + 1
        elif c == ";":
            statement = text[start:at]
            if every or hidden(stack, statement.strip()):
                names |= declared(statement + ";")
            start = at + 1
        at += 1
    return names


def hidden(stack, statement):
    return "unnamed" in stack or re.match(r"(static|const|constexpr|using)\b", statement) is not None


class Sources:
    """What sources say, each read once."""

    def __init__(self, root):
        self.root = root
        self.texts, self.kept = {}, {}

    def text(self, file):
        if file not in self.texts:
            self.texts[file] = file.read_text(encoding="utf-8") if file.is_file() else ""
        return self.texts[file]

    def of_header(self, file):
        """Types and constants a header takes from elsewhere, and all it declares outside of a class."""
        if file not in self.kept:
            text = bare(self.text(file))
            spoken_of = {word for word in free_words(text) if word[0].isupper() or re.match("k[A-Z]", word)}
            self.kept[file] = spoken_of - set(MEMBER_TYPE.findall(text)) | private_names(text, every=True)
        return self.kept[file]

    def seen_by(self, file):
        """Every word that could mean something else if a private name of another file were in sight."""
        text = bare(self.text(file))
        found, headers, open_ends = free_words(text), set(), [file]
        while open_ends:
            for include in INCLUDE.findall(self.text(open_ends.pop())):
                header = self.root / include
                if header not in headers:
                    headers.add(header)
                    open_ends.append(header)
                    found |= self.of_header(header)
        return found


def free_words(text):
    """Words that are looked up in a namespace: types and constants, and what is called; members are not."""
    free = re.compile(r"(?<![\w.>:])(?:([A-Z]\w*|k[A-Z]\w*)|([a-z]\w*)\s*(?=\())")
    return {m.group(1) or m.group(2) for m in free.finditer(text)}


def main():
    most, root, alike = int(sys.argv[1]), Path(sys.argv[2]), {name for name in sys.argv[3].split(",") if name}
    sources = Sources(root)
    groups = []  # [files, private names, words]
    for file in sys.argv[4:]:
        text = bare(sources.text(Path(file)))
        names = private_names(text)
        if alike & (set(WORD.findall(text)) - names | set(MEMBER.findall(text))):
            continue
        words = (sources.seen_by(Path(file)) | names) - alike
        names -= alike
        for group in groups:
            if len(group[0]) < most and not names & group[2] and not words & group[1]:
                break
        else:
            group = [[], set(), set()]
            groups.append(group)
        group[0].append(file)
        group[1] |= names
        group[2] |= words
    for number, group in enumerate(groups):
        for file in group[0]:
            print(number, file)


if __name__ == "__main__":
    main()
