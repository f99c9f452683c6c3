#!/usr/bin/env python3
"""Sources that are compiled as one: unity.py MOST ROOT OUT FILE... writes OUT/1.cpp, OUT/2.cpp and so on, which
include several each, and prints what is to be compiled.

Sources with a private name in common, or with one that the other uses for something else, are in each other's way
there. What is private to a file (its unnamed namespace, its aliases) is read from its text, not from a list: a new
name needs no thought. Where every file that has the name means only its own by it, it is made a name of that file
alone while that is read. All others never come into one group. MOST is how many lines are compiled as one.
"""
import re
import sys
from pathlib import Path

COMMENT_OR_STRING = re.compile(
    r'//[^\n]*|/\*.*?\*/|R"(\w*)\(.*?\)\1"|"(?:\\.|[^"\\\n])*"|(?<![0-9A-Fa-f])\'(?:\\.|[^\'\\\n])+\'', re.S)
INCLUDE = re.compile(r'^#include "([^"]+)"', re.M)
WORD = re.compile(r"[A-Za-z_]\w*")
MEMBER = re.compile(r"(?:\.|->)\s*(\w+)")
MACRO = re.compile(r"[A-Z][A-Z0-9_]+")  # of a library for tests, say: TEST_CASE
TYPE_OR_CONSTANT = re.compile(r"[A-Z]|k[A-Z]")
ALIAS = re.compile(r"^(?:using|namespace)\s+(\w+)\s*=\s*([^;]+);", re.M)
EXTERN = re.compile(r"^extern\b[^;()]*?(\w+);", re.M)
OF_ANOTHER = re.compile(r"::\s*(\w+)")
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
                # What follows the body of a function is another statement; after a type or a value comes its end.
                if not re.match(r"(?:[^(]*=|struct|class|enum|union)", re.sub(r"^template\s*<.*?>\s*", "", head), re.S):
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
    if "unnamed" in stack or re.match(r"(static|constexpr|using)\b", statement):
        return True
    return statement.startswith("const ") and "(" not in re.split(r"[={;]", statement, maxsplit=1)[0]


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
        """All that a header declares outside of a class; and of that, what is defined in a source."""
        if file not in self.kept:
            text = bare(self.text(file))
            self.kept[file] = private_names(text, every=True), set(EXTERN.findall(text))
        return self.kept[file]

    def of_headers(self, file):
        """The same of all headers that a file sees."""
        found, shared, headers, open_ends = set(), set(), set(), [file]
        while open_ends:
            for include in INCLUDE.findall(self.text(open_ends.pop())):
                header = self.root / include
                if header not in headers:
                    headers.add(header)
                    open_ends.append(header)
                    declared_there, defined_elsewhere = self.of_header(header)
                    found |= declared_there
                    shared |= defined_elsewhere
        return found, shared


def free_words(text):
    """Words that are looked up in a namespace: types and constants, and what is called; members are not."""
    free = re.compile(r"(?<![\w.>:])(?:([A-Z]\w*|k[A-Z]\w*)|([a-z]\w*)\s*(?=\())")
    return {m.group(1) or m.group(2) for m in free.finditer(text)}


class Source:
    """A file with its names."""

    def __init__(self, file, sources):
        text = bare(sources.text(file))
        self.file = file
        self.lines = text.count("\n")
        self.includes = outermost_includes(sources.text(file))
        headers, shared = sources.of_headers(file)
        private = {name for name in private_names(text) - shared if not MACRO.fullmatch(name)}
        # A function may be one of several; a type or a constant that is declared here is meant wherever it is named.
        several = {name for name in headers if not TYPE_OR_CONSTANT.match(name)}
        other_meaning = set(MEMBER.findall(text)) | set(OF_ANOTHER.findall(text)) | several
        self.own = sorted(name for name in private - other_meaning if name.isidentifier())
        self.private = private.difference(self.own)
        self.aliases = {name: what for name, what in ALIAS.findall(text) if name in self.private}
        self.words = free_words(text).difference(self.own) | headers

    def in_the_way_of(self, other):
        """Whether a name that is still private means, or could mean, something else in the other."""
        return any(self.aliases.get(name, "") != other.aliases.get(name) for name in self.private & (other.words | other.private))


def outermost_includes(text):
    """Lines that include something under no condition."""
    depth, found = 0, []
    for line in text.splitlines():
        if re.match(r"\s*#\s*if", line):
            depth += 1
        elif re.match(r"\s*#\s*endif", line):
            depth -= 1
        elif depth == 0 and re.match(r"#include\b", line):
            found.append(line)
    return found


def grouped(files, most):
    """Lists of files that are not in each other's way."""
    groups = []
    for one in files:
        for group in groups:
            if one.lines + sum(other.lines for other in group) <= most and not any(
                    one.in_the_way_of(other) or other.in_the_way_of(one) for other in group):
                group.append(one)
                break
        else:
            groups.append([one])
    return groups


def together(number, files):
    """What a compiler is given. Headers come first: in there, names are nobody's own."""
    lines = list(dict.fromkeys(line for one in files for line in one.includes))
    for at, one in enumerate(files):
        lines += [f"#define {name} {name}_{number}_{at}" for name in one.own]
        lines.append(f'#include "{one.file}"')
        lines += [f"#undef {name}" for name in one.own]
    return "\n".join(lines) + "\n"


def main():
    most, root, out = int(sys.argv[1]), Path(sys.argv[2]), Path(sys.argv[3])
    sources = Sources(root)
    files = [Source(Path(name), sources) for name in sys.argv[4:]]
    out.mkdir(parents=True, exist_ok=True)
    for number, group in enumerate(grouped(files, most), 1):
        if len(group) == 1:
            print(group[0].file)
            continue
        made, text = out / f"{number}.cpp", together(number, group)
        if not made.is_file() or made.read_text(encoding="utf-8") != text:
            made.write_text(text, encoding="utf-8")
        print(made)


if __name__ == "__main__":
    main()
