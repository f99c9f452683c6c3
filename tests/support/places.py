"""Where things stand in a JSON document, for tests that take away one thing after the other."""


def objects(value, path=()):
    """Every object in a document, the first two of each list: (path, object)."""
    if isinstance(value, dict):
        yield path, value
        for key, inner in value.items():
            yield from objects(inner, path + (key,))
    elif isinstance(value, list):
        for i, inner in enumerate(value[:2]):
            yield from objects(inner, path + (i,))


def at(value, path):
    for step in path:
        value = value[step]
    return value
