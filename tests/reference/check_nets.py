#!/usr/bin/env python3
"""Compare nets with the connected components that networkx finds.

Standard input holds one JSON object a line:

    {"points": N, "joins": [[i, j], ...], "nets": [[...], ...]}

Points are numbered 0 to N-1. `nets` must hold every point exactly once, a
point without a join as a net of its own. The order of nets and of points
inside a net does not matter.

Exit status 0: every graph agrees. 1: a graph differs, a line is malformed, or
no line was read.
"""

import json
import sys

import networkx


class Malformed(Exception):
    pass


def is_index(value):
    return isinstance(value, int) and not isinstance(value, bool)


def read_graph(line):
    try:
        data = json.loads(line)
    except json.JSONDecodeError as error:
        raise Malformed(f"not JSON: {error}") from error
    if not isinstance(data, dict):
        raise Malformed("not a JSON object")
    for key in ("points", "joins", "nets"):
        if key not in data:
            raise Malformed(f"no `{key}`")
    points, joins, nets = data["points"], data["joins"], data["nets"]
    if not is_index(points) or points < 0:
        raise Malformed("`points` is not a count")
    if not isinstance(joins, list) or not isinstance(nets, list):
        raise Malformed("`joins` or `nets` is not a list")
    for join in joins:
        if not isinstance(join, list) or len(join) != 2:
            raise Malformed(f"join {join!r} is not a pair")
        for point in join:
            if not is_index(point) or not 0 <= point < points:
                raise Malformed(f"join {join!r} names a point outside 0..{points - 1}")
    for net in nets:
        if not isinstance(net, list) or not all(is_index(point) for point in net):
            raise Malformed(f"net {net!r} is not a list of points")
    return points, joins, nets


def expected_nets(points, joins):
    graph = networkx.Graph()
    graph.add_nodes_from(range(points))
    graph.add_edges_from(joins)
    return {frozenset(part) for part in networkx.connected_components(graph)}


def difference(points, joins, nets):
    """A description of how `nets` is wrong, or None."""
    expected = expected_nets(points, joins)
    found = {frozenset(net) for net in nets}
    for net in nets:
        if len(set(net)) != len(net):
            return f"net {net} holds a point twice"
    if len(found) != len(nets):
        return "a net is given twice"
    if found == expected:
        return None
    missing = sorted(sorted(net) for net in expected - found)
    surplus = sorted(sorted(net) for net in found - expected)
    return f"nets missing: {missing}; nets not expected: {surplus}"


def main():
    count = 0
    for number, line in enumerate(sys.stdin, start=1):
        if not line.strip():
            continue
        try:
            graph = read_graph(line)
        except Malformed as error:
            print(f"line {number}: {error}")
            return 1
        problem = difference(*graph)
        if problem is not None:
            print(f"line {number}: {problem}")
            print(f"graph: {line.strip()}")
            return 1
        count += 1
    if count == 0:
        print("no graph was read")
        return 1
    print(f"{count} graphs, all nets agree")
    return 0


if __name__ == "__main__":
    sys.exit(main())
