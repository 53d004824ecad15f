#!/usr/bin/env python3
"""Compare Touchstone files as backshell reads them with what scikit-rf reads.

Standard input holds one JSON object a line:

    {"file": PATH, "f": [Hz, ...], "z0": [ohm, ...], "s": [[re, im], ...],
     "to": [ohm, ...], "renormalised": [[re, im], ...],
     "mode": null | "order of modes"}

`s` holds one matrix a frequency, row by row, at the references `z0`, and
`renormalised` the same network at the references `to`. With `mode` the file is
in mixed modes, and what is compared is the network between single ports.

Exit status 0: every file agrees. 1: one differs, or none was read.
"""

import json
import sys
import warnings

import numpy
import skrf

warnings.simplefilter("ignore")


def matrices(pairs, rows, ports):
    flat = numpy.array(pairs, dtype=float)
    return (flat[:, 0] + 1j * flat[:, 1]).reshape(rows, ports, ports)


def written(path):
    """The matrices of a file as it writes them, and its references, for what scikit-rf converts otherwise."""
    lines = [line.split("!")[0].strip() for line in open(path, encoding="utf-8")]
    reference, numbers, data = None, [], False
    for line in lines:
        if line.lower().startswith("[reference]"):
            reference = [float(word) for word in line.split("]")[1].split()]
        elif line.lower().startswith("[network data]"):
            data = True
        elif data and line and not line.startswith("["):
            numbers += [float(word) for word in line.split()]
    ports = len(reference)
    values = numpy.array(numbers).reshape(-1, 1 + 2 * ports * ports)[:, 1:]
    return (values[:, 0::2] + 1j * values[:, 1::2]).reshape(-1, ports, ports), numpy.array(reference)


def from_modes(path, order):
    """Y (in RI) between single ports from that of modes, by the definition of the modes; then scikit-rf's y2s."""
    y, reference = written(path)
    ports = len(reference)
    voltage, current = numpy.zeros((ports, ports)), numpy.zeros((ports, ports))
    for row, word in enumerate(order.split()):
        at = [int(number) - 1 for number in word[1:].split(",")]
        if word[0] == "S":
            voltage[row, at[0]] = current[row, at[0]] = 1
        elif word[0] == "D":
            voltage[row, at[0]], voltage[row, at[1]] = 1, -1
            current[row, at[0]], current[row, at[1]] = 0.5, -0.5
        else:
            voltage[row, at[0]] = voltage[row, at[1]] = 0.5
            current[row, at[0]] = current[row, at[1]] = 1
    single = numpy.linalg.inv(current) @ y @ voltage
    return skrf.network.y2s(single, numpy.broadcast_to(reference, (len(y), ports)).astype(complex))


def differs(data):
    network = skrf.Network(data["file"])
    z0 = numpy.array(data["z0"])
    rows, ports = len(data["f"]), len(z0)
    found = matrices(data["s"], rows, ports)
    if numpy.abs(network.f - data["f"]).max() > 1e-9 * max(data["f"]):
        return f"frequencies {network.f} and {data['f']}"
    if data["mode"] is None:
        if numpy.abs(network.z0[0] - z0).max() > 1e-12 * z0.max():
            return f"references {network.z0[0]} and {z0}"
        wanted = network.s
    elif data["mode"] == "D1,2 D3,4 C1,2 C3,4":
        # scikit-rf puts each mode at the place of one of its ports: D1,2 C1,2 D3,4 C3,4
        modes = network.subnetwork([0, 2, 1, 3])
        modes.gmm2se(p=2, z0_se=z0)
        wanted = modes.s
    else:
        wanted = from_modes(data["file"], data["mode"])
    if numpy.abs(wanted - found).max() > 1e-9 * max(1, numpy.abs(wanted).max()):
        return f"matrices differ by {numpy.abs(wanted - found).max()}"
    # one row a frequency, as scikit-rf takes a list as long as both for one figure a frequency
    each = lambda ohms: numpy.broadcast_to(numpy.array(ohms, dtype=complex), (rows, ports)).copy()
    at_z0 = skrf.Network(frequency=network.frequency, s=wanted, z0=each(z0))
    at_z0.renormalize(each(data["to"]))
    found = matrices(data["renormalised"], rows, ports)
    # scikit-rf goes by way of impedances and nudges matrices that have none, which costs it some digits
    if numpy.abs(at_z0.s - found).max() > 1e-6 * max(1, numpy.abs(found).max()):
        return f"renormalised matrices differ by {numpy.abs(at_z0.s - found).max()}"
    return None


def main():
    count = 0
    for line in sys.stdin:
        data = json.loads(line)
        problem = differs(data)
        if problem is not None:
            print(f"{data['file']}: {problem}")
            return 1
        count += 1
    print(f"{count} files agree")
    return 0 if count else 1


if __name__ == "__main__":
    sys.exit(main())
