#!/usr/bin/env python3
"""Compare resistor networks with networkx and with exact fractions.

Standard input holds one JSON object a line:

    {"nodes": N, "edges": [[i, j, ohm], ...], "bridges": [edge, ...],
     "effective": [[a, b, ohm or null], ...],
     "without": [[edge, a, b, ohm or null], ...], "wide": true or false}

Nodes are numbered 0 to N-1, edges by their place from 0. `bridges` must hold
exactly the edges whose loss cuts the network. `effective` holds resistances
between two nodes, `without` those with one edge taken away; null says that
there is no way. An edge of 0 ohm ties its nodes together.

Bridges are compared with networkx.bridges, resistances with
networkx.resistance_distance (both on a MultiGraph) and with the solution of
the grounded Laplacian in fractions. `wide` leaves the second out: where
conductances differ by many powers of ten, its pseudoinverse in floating point
is no reference.

Exit status 0: everything agrees. 1: something differs, a line is malformed,
or no line was read.
"""

import json
import sys
from fractions import Fraction

import networkx
import numpy  # noqa: F401  resistance_distance needs both: say so at once
import scipy  # noqa: F401

EXACT = 1e-12
FLOATING = 1e-8


class Malformed(Exception):
    pass


def is_index(value, count):
    return isinstance(value, int) and not isinstance(value, bool) and 0 <= value < count


def is_ohm(value):
    return isinstance(value, (int, Fraction)) and not isinstance(value, bool) and value >= 0


def read_network(line):
    try:
        data = json.loads(line, parse_float=Fraction)
    except json.JSONDecodeError as error:
        raise Malformed(f"not JSON: {error}") from error
    if not isinstance(data, dict):
        raise Malformed("not a JSON object")
    for key in ("nodes", "edges", "bridges", "effective", "without", "wide"):
        if key not in data:
            raise Malformed(f"no `{key}`")
    nodes, edges = data["nodes"], data["edges"]
    if not isinstance(nodes, int) or isinstance(nodes, bool) or nodes < 0:
        raise Malformed("`nodes` is not a count")
    for edge in edges:
        if len(edge) != 3 or not all(is_index(node, nodes) for node in edge[:2]) or not is_ohm(edge[2]):
            raise Malformed(f"edge {edge!r}")
    for edge in data["bridges"]:
        if not is_index(edge, len(edges)):
            raise Malformed(f"bridge {edge!r}")
    for row in data["effective"]:
        if len(row) != 3 or not all(is_index(node, nodes) for node in row[:2]):
            raise Malformed(f"effective {row!r}")
    for row in data["without"]:
        if len(row) != 4 or not is_index(row[0], len(edges)) or not all(is_index(node, nodes) for node in row[1:3]):
            raise Malformed(f"without {row!r}")
    for row in data["effective"] + data["without"]:
        if row[-1] is not None and not is_ohm(row[-1]):
            raise Malformed(f"resistance in {row!r}")
    return data


def expected_bridges(nodes, edges):
    graph = networkx.MultiGraph()
    graph.add_nodes_from(range(nodes))
    # an edge from a node to itself is never a bridge
    graph.add_edges_from((a, b, index) for index, (a, b, _) in enumerate(edges) if a != b)
    return {index for a, b in networkx.bridges(graph) for index in graph[a][b]}


def contracted(nodes, edges, a, b):
    """The network of resistors alone that holds `a` and `b`, or None where no way leads from one to the other."""
    ties = networkx.utils.UnionFind(range(nodes))
    for one, other, ohm in edges:
        if ohm == 0:
            ties.union(one, other)
    graph = networkx.MultiGraph()
    graph.add_nodes_from({ties[node] for node in range(nodes)})
    for one, other, ohm in edges:
        if ties[one] != ties[other]:
            graph.add_edge(ties[one], ties[other], ohm=ohm)
    a, b = ties[a], ties[b]
    part = networkx.node_connected_component(graph, a)
    return (graph.subgraph(part), a, b) if b in part else None


def exact(graph, a, b):
    """The potential of `b` with `a` grounded and one ampere put in at `b`."""
    rows = [node for node in graph if node != a]
    place = {node: index for index, node in enumerate(rows)}
    size = len(rows)
    matrix = [[Fraction(0)] * (size + 1) for _ in range(size)]
    for one, other, ohm in graph.edges(data="ohm"):
        siemens = 1 / Fraction(ohm)
        for u, v in ((one, other), (other, one)):
            if u != a:
                matrix[place[u]][place[u]] += siemens
                if v != a:
                    matrix[place[u]][place[v]] -= siemens
    matrix[place[b]][size] = Fraction(1)
    for pivot in range(size):
        best = next(row for row in range(pivot, size) if matrix[row][pivot] != 0)
        matrix[pivot], matrix[best] = matrix[best], matrix[pivot]
        for row in range(size):
            if row != pivot and matrix[row][pivot] != 0:
                share = matrix[row][pivot] / matrix[pivot][pivot]
                matrix[row] = [x - share * y for x, y in zip(matrix[row], matrix[pivot])]
    return matrix[place[b]][size] / matrix[place[b]][place[b]]


def close(found, expected, tolerance):
    return abs(float(found) - float(expected)) <= tolerance * float(expected)


def wrong_resistance(nodes, edges, a, b, found, wide):
    """A description of how the resistance is wrong, or None."""
    network = contracted(nodes, edges, a, b)
    if network is None:
        return None if found is None else f"{float(found)} ohm where there is no way"
    graph, a, b = network
    expected = Fraction(0) if a == b else exact(graph, a, b)
    if found is None:
        return f"no way where there are {float(expected)} ohm"
    if not close(found, expected, EXACT):
        return f"{float(found)!r} ohm, but {float(expected)!r} in fractions"
    if not wide and a != b:
        floating = networkx.MultiGraph()
        floating.add_edges_from((u, v, {"ohm": float(ohm)}) for u, v, ohm in graph.edges(data="ohm"))
        expected = networkx.resistance_distance(floating, a, b, weight="ohm", invert_weight=True)
        if not close(found, expected, FLOATING):
            return f"{float(found)!r} ohm, but {expected!r} by networkx"
    return None


def difference(data):
    """A description of what is wrong, or None."""
    nodes, edges = data["nodes"], data["edges"]
    expected = expected_bridges(nodes, edges)
    if len(set(data["bridges"])) != len(data["bridges"]):
        return "a bridge is given twice"
    if set(data["bridges"]) != expected:
        return f"bridges {sorted(data['bridges'])}, but {sorted(expected)} by networkx"
    for a, b, found in data["effective"]:
        problem = wrong_resistance(nodes, edges, a, b, found, data["wide"])
        if problem is not None:
            return f"between {a} and {b}: {problem}"
    for gone, a, b, found in data["without"]:
        left = edges[:gone] + edges[gone + 1 :]
        problem = wrong_resistance(nodes, left, a, b, found, data["wide"])
        if problem is not None:
            return f"between {a} and {b} without edge {gone}: {problem}"
    return None


def main():
    networks = bridges = resistances = 0
    for number, line in enumerate(sys.stdin, start=1):
        if not line.strip():
            continue
        try:
            data = read_network(line)
        except Malformed as error:
            print(f"line {number}: {error}")
            return 1
        problem = difference(data)
        if problem is not None:
            print(f"line {number}: {problem}")
            print(f"network: {line.strip()}")
            return 1
        networks += 1
        bridges += len(data["bridges"])
        resistances += len(data["effective"]) + len(data["without"])
    if networks == 0:
        print("no network was read")
        return 1
    print(f"{networks} networks with {bridges} bridges and {resistances} resistances, all agree")
    return 0


if __name__ == "__main__":
    sys.exit(main())
