"""YAML files as trees of mappings, lists and the texts of their scalars: read, changed at one place, and seen as an
editor and as the loader see them."""
import json
import re

import yaml

# The plain scalars of YAML 1.2 (core schema, 10.3.2), as editors read them: `on` is a text there.
NULL = re.compile(r"(~|null|Null|NULL|)\Z")
TRUTH = re.compile(r"(true|True|TRUE|false|False|FALSE)\Z")
WHOLE = re.compile(r"[-+]?[0-9]+\Z|0o[0-7]+\Z|0x[0-9a-fA-F]+\Z")
REAL = re.compile(r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?\Z")


class Scalar(str):
    """The text of a scalar, as it stands in the file."""
    quoted = False


def read(path):
    def tree(node):
        if isinstance(node, yaml.MappingNode):
            return {key.value: tree(value) for key, value in node.value}
        if isinstance(node, yaml.SequenceNode):
            return [tree(item) for item in node.value]
        scalar = Scalar(node.value)
        scalar.quoted = node.style is not None
        return scalar
    with open(path, encoding="utf-8") as file:
        return tree(yaml.compose(file))


def typed(tree):
    """As an editor sees it."""
    if isinstance(tree, dict):
        return {key: typed(value) for key, value in tree.items()}
    if isinstance(tree, list):
        return [typed(item) for item in tree]
    text = str(tree)
    if getattr(tree, "quoted", False):
        return text
    if NULL.match(text):
        return None
    if TRUTH.match(text):
        return text.lower() == "true"
    if WHOLE.match(text):
        return int(text, 10 if text.lstrip("+-").isdigit() else 0)
    return float(text) if REAL.match(text) else text


def flow(tree):
    """As the loader is given it: JSON is YAML. Texts stay what they are, nothing stays nothing."""
    if isinstance(tree, dict):
        return "{" + ", ".join(json.dumps(k) + ": " + flow(v) for k, v in tree.items()) + "}"
    if isinstance(tree, list):
        return "[" + ", ".join(flow(item) for item in tree) + "]"
    plain = not getattr(tree, "quoted", False)
    return "null" if plain and NULL.match(tree) else json.dumps(str(tree), ensure_ascii=False)


def at(tree, path):
    for step in path:
        tree = tree[step]
    return tree


def changed(tree, path, value):
    """A copy with another value at `path`; None takes it away. What is not on the path is shared."""
    if not path:
        return value
    copied = tree.copy()
    if len(path) == 1 and value is None:
        del copied[path[0]]
    else:
        copied[path[0]] = changed(tree[path[0]], path[1:], value)
    return copied


def neighbours(tree, path):
    """The values beside the one at `path`, without addresses and numbers."""
    while path and not isinstance(at(tree, path[:-1]), dict):
        path = path[:-1]
    beside = at(tree, path[:-1]) if path else {}
    return {k: v for k, v in beside.items() if isinstance(v, str) and not re.search("[0-9]", v)}
