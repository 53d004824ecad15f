"""The nets of every unit of a display-cable reel with networkx, compared with those of a sound cable."""

import sys

import networkx as nx

CROSSED = {1: 12, 2: 11, 3: 10, 4: 9, 5: 8, 6: 7, 7: 6, 8: 5, 9: 4, 10: 3, 11: 2, 12: 1}
SOUND = {frozenset((f"A.{pin}", f"B.{CROSSED.get(pin, pin)}")) for pin in range(1, 20)}
SOUND |= {frozenset(("A.shell", "B.shell")), frozenset(("A.20",)), frozenset(("B.20",))}


def main() -> None:
    graph, faulty, units = None, 0, 0

    def close() -> int:
        if graph is None:
            return 0
        return {frozenset(net) for net in nx.connected_components(graph)} != SOUND

    with open(sys.argv[1], encoding="utf-8") as lines:
        for line in lines:
            words = line.split()
            if not words:
                continue
            if words[0] == "unit":
                faulty += close()
                graph, units = nx.Graph(), units + 1
            elif words[0] == "open":
                graph.add_nodes_from(words[1:])
            elif "." in words[0]:
                graph.add_edge(words[0], words[1])
    faulty += close()
    print(f"{units} units, {faulty} differ")


main()
