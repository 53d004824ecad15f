#!/usr/bin/env python3
"""Compare worst eyes (peak distortion) with numpy.

Standard input holds one JSON object a line:

    {"step": Hz, "rate": bit/s, "rise": s, "samples": phases a bit,
     "transfer": [[re, im], ...] from 0 Hz in steps,
     "tap": feedback, "time": of phase 0 in s, "phase": the best phase,
     "main": main cursor there, "heights": [one a phase]}

Each cursor is the sum over all frequencies of transfer, bit and edge at its
own time, once round the record; nothing is interpolated or transformed. Where
the record is no whole number of bits, as many cursors count as come nearest.

Exit status 0: everything agrees. 1: something differs, or no line was read.
"""

import json
import sys

import numpy as np

TOLERANCE = 1e-4


def worst(channel):
    step, rate, samples = channel["step"], channel["rate"], channel["samples"]
    transfer = np.array(channel["transfer"]) @ np.array([1, 1j])
    f = step * np.arange(len(transfer))
    bit = 1 / rate
    sigma = channel["rise"] / 2.5631031310892008
    received = transfer * bit * np.sinc(f * bit) * np.exp(-1j * np.pi * f * bit)
    received = received * np.exp(-2 * (np.pi * f * sigma) ** 2)
    bits = round(rate / step)
    heights, mains = [], []
    for phase in range(samples):
        time = channel["time"] + phase * bit / samples + bit * np.arange(bits)
        turns = np.exp(2j * np.pi * np.outer(time, f[1:]))
        cursors = step * (received[0].real + 2 * (turns @ received[1:]).real)
        main, others = cursors[0], cursors[1:].copy()
        others[0] -= channel["tap"]
        heights.append(main - np.abs(others).sum())
        mains.append(main)
    return np.array(heights), np.array(mains)


def main():
    channels = 0
    largest = 0.0
    for number, line in enumerate(sys.stdin, start=1):
        channel = json.loads(line)
        heights, mains = worst(channel)
        away = np.abs(heights - channel["heights"]).max()
        best = channel["phase"]
        largest = max(largest, away, abs(mains[best] - channel["main"]))
        if channel["heights"][best] < heights.max() - TOLERANCE and channel["tap"] == 0:
            print(f"line {number}: phase {best} isn't the best")
            return 1
        if largest > TOLERANCE:
            print(f"line {number}: {largest} apart")
            return 1
        channels += 1
    if channels == 0:
        print("no channel was read")
        return 1
    print(f"{channels} channels, at most {largest:.1e} apart")
    return 0


if __name__ == "__main__":
    sys.exit(main())
