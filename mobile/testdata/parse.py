"""Parses Swift files, and prints as JSON the faults of each."""

import json
import sys

import tree_sitter
import tree_sitter_swift

parser = tree_sitter.Parser(tree_sitter.Language(tree_sitter_swift.language()))


def faults(node):
    if node.type == "ERROR" or node.is_missing:
        yield f"line {node.start_point[0] + 1}: cannot be read"
        return
    for child in node.children:
        yield from faults(child)


found = {}
for name in sys.argv[1:]:
    with open(name, "rb") as file:
        found[name] = list(faults(parser.parse(file.read()).root_node))
print(json.dumps(found))
