#!/usr/bin/env python3
"""Compares what the program says of balanced pairs with scikit-rf and with sums written out here.

One case a line on standard input. Modes, other references and quality are scikit-rf's own (se2gmm, renormalize,
IEEEP370_FD_QM); steps are the trigonometric sum term by term; delay and skew are crossings of that sum, found by bisection.
"""

import json
import sys

import numpy as np
import skrf
from skrf.calibration.deembedding import IEEEP370_FD_QM

SIGMA_10_90 = 2 * 1.2815515655446004
worst = {}


def agree(case, what, here, there, tolerance):
    """Collects the largest difference of a kind, and stops where one is too large."""
    difference = float(np.max(np.abs(np.asarray(here) - np.asarray(there))))
    worst[what] = max(worst.get(what, 0.0), difference)
    if not difference <= tolerance:
        sys.exit(f"{case['name']} at {case.get('ohm')} ohm, {what}: {difference} apart, {tolerance} allowed")


def complexes(flat):
    pairs = np.array(flat).reshape(-1, 2)
    return pairs[:, 0] + 1j * pairs[:, 1]


def network(case):
    if case["network"] is None:
        read = skrf.Network(f"tests/signal/{case['name']}.s4p")
    else:
        f = np.array(case["network"]["frequencies"])
        s = complexes(case["network"]["scattering"]).reshape(-1, 4, 4)
        read = skrf.Network(frequency=skrf.Frequency.from_f(f, unit="hz"), s=s, z0=50)
    if case["order"] == "odd-even":
        read = read.subnetwork([0, 2, 1, 3])
    return read


def quality(case, part, net, told):
    found = IEEEP370_FD_QM().check_se_quality(net)
    for kind in ("passivity", "reciprocity", "causality"):
        agree(case, f"{kind}, percent", told[kind], found[kind]["value"], 1e-6)
        if told[f"{kind}_grade"] != found[kind]["evaluation"]:
            sys.exit(f"{case['name']} {part} {kind}: {told[kind + '_grade']}, {found[kind]['evaluation']} expected")
    singular = np.linalg.svd(net.s, compute_uv=False)[:, 0]
    agree(case, "largest singular value", told["singular"], singular.max(), 1e-7)
    row = int(np.argmin(np.abs(net.f - told["singular_hz"])))
    agree(case, "largest singular value, where", singular[row], singular.max(), 1e-7)


def step(f, x, at_zero, rise, begin, times):
    """The running integral of the band-limited impulse response, term by term."""
    above = f > 0
    omega = 2 * np.pi * f[above]
    k = x[above] * np.exp(-0.5 * (omega * rise / SIGMA_10_90) ** 2) / (1j * omega)
    df = f[above][0]
    times = np.atleast_1d(times)
    sums = np.array([2 * np.sum(k * (np.exp(1j * omega * t) - np.exp(1j * omega * begin))).real for t in times])
    return df * (sums + at_zero * (times - begin))


def crossing(f, x, at_zero, level, rise):
    """The first time at which a step passes a level upwards."""
    at = lambda t: float(step(f, x, at_zero, rise, -0.5e-9, t)[0])
    record = 1 / f[f > 0][0]
    coarse = np.arange(-0.5 * rise, 0.45 * record, rise / 8)
    y = step(f, x, at_zero, rise, -0.5e-9, coarse)
    first = int(np.where((y[:-1] < level) & (y[1:] >= level))[0][0])
    low, high = coarse[first], coarse[first + 1]
    for _ in range(40):
        middle = (low + high) / 2
        low, high = (middle, high) if at(middle) < level else (low, middle)
    return (low + high) / 2


def pair(case):
    net = network(case)
    quality(case, "whole", net, case["quality"]["whole"])
    f = net.f
    modes = net.copy()
    modes.se2gmm(p=2)
    modes.renormalize([case["ohm"], case["ohm"], case["ohm"] / 4, case["ohm"] / 4])
    m = modes.s
    for term, told in case["terms"].items():
        to, driven = "dc".index(term[0]) * 2 + int(term[2]) - 1, "dc".index(term[1]) * 2 + int(term[3]) - 1
        told = complexes(told)
        # scikit-rf moves matrices that can't be inverted a little before it renormalises them
        same = case["ohm"] == 100
        agree(case, "modes" if same else "modes, renormalised", told, m[:, to, driven], 1e-12 if same else 1e-7)
        loud = np.abs(m[:, to, driven]) > 1e-5
        if loud.any():
            decibels = 20 * np.log10(np.abs(told[loud]) / np.abs(m[loud, to, driven]))
            agree(case, "modes, dB", decibels, 0, 0.01)
    quality(case, "dd", modes.subnetwork([0, 1]), case["quality"]["dd"])
    quality(case, "cc", modes.subnetwork([2, 3]), case["quality"]["cc"])

    through, converted = m[:, 1, 0], m[:, 3, 0]
    if f[0] == 0:
        dc21, dc11 = through[0].real, m[0, 0, 0].real
    else:
        line = np.polyfit(np.sqrt(f[:4]), np.abs(through[:4]), 1)
        dc21 = min(1.0, float(line[1]))
        dc11 = 1 - dc21
    agree(case, "Sdd21 at 0 Hz", case["dc"]["sdd21"], dc21, 1e-7)
    agree(case, "Sdd11 at 0 Hz", case["dc"]["sdd11"], dc11, 1e-7)

    delay = case["delay"]
    p, n = through + converted, through - converted
    above = f > 0
    inside = (f[above] >= delay["band"][0]) & (f[above] <= delay["band"][1])
    skew = -np.unwrap(np.angle((p / n)[above])) / (2 * np.pi * f[above])
    agree(case, "skew by phase, ps", delay["skew_phase"] * 1e12, np.median(skew[inside]) * 1e12, 0.001)
    group = -np.gradient(np.unwrap(np.angle(through)), 2 * np.pi * f)
    agree(case, "group delay, ps", delay["group"] * 1e12, group[np.argmin(np.abs(f - delay["group_hz"]))] * 1e12, 0.1)
    own = lambda x: x[0].real if f[0] == 0 else dc21
    late = crossing(f, through, own(through), dc21 / 2, delay["rise"])
    agree(case, "delay by step, ps", delay["step"] * 1e12, late * 1e12, 0.1)
    skew = crossing(f, p, own(p), dc21 / 2, delay["rise"]) - crossing(f, n, own(n), dc21 / 2, delay["rise"])
    agree(case, "skew by step, ps", delay["skew_step"] * 1e12, skew * 1e12, 0.1)

    z = lambda rho: case["ohm"] * (1 + rho) / (1 - rho)
    for term, at, zero in (("dd11", 0, dc11), ("dd22", 1, m[0, 1, 1].real if f[0] == 0 else dc11)):
        told = case["steps"][term]
        times = np.array(told["times"])
        found = step(f, m[:, at, at], zero, case["steps"]["rise"], told["begin"], times)
        agree(case, "impedance along the cable, ohm", z(np.array(told["values"])), z(found), 0.1)

    loss = -20 * np.log10(np.abs(through))
    band = (f >= 50e6) & (f <= 12e9)
    ghz = f[band] / 1e9
    for kind, powers in (("two", (0.5, 1)), ("three", (0, 0.5, 1)), ("four", (0, 0.5, 1, 1.5))):
        told = case["fits"][kind]
        columns = np.vstack([ghz**power for power in powers]).T
        found = np.linalg.lstsq(columns, loss[band], rcond=None)[0]
        values = {0: "constant_db", 0.5: "root_db_per_sqrt_ghz", 1: "linear_db_per_ghz", 1.5: "steep_db_per_ghz_1_5"}
        for power, value in zip(powers, found):
            agree(case, "fitted coefficients, dB", told[values[power]], value, 1e-6)
        left = loss[band] - columns @ found
        agree(case, "residual of the fits, dB", told["residual_rms_db"], np.sqrt(np.mean(left**2)), 1e-6)


cases = 0
for line in sys.stdin:
    case = json.loads(line)
    if "reference" in case:
        net = network(case)
        net.renormalize(case["reference"])
        agree(case, "unequal references", complexes(case["seen"]).reshape(-1, 4, 4), net.s, 1e-7)
    elif "terms" in case:
        pair(case)
    else:
        quality(case, "whole", network(case), case["quality"]["whole"])
    cases += 1
print(f"{cases} cases agree with scikit-rf {skrf.__version__}; largest differences:")
for what, difference in sorted(worst.items()):
    print(f"  {what}: {difference:.2e}")
