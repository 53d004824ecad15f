#!/usr/bin/env python3
"""The same eyes as tests/bench/eye.rs, with numpy.

Standard input holds the transfers of the lanes and the rules of the rates.
For each: one pulse a setting at 16 samples a bit and the worst eye of each,
the best setting, then the statistical eye at 64 samples a bit on a grid of
1/2048 of what is launched, at the end of the cable and behind the receiver.

Written as one would write it in numpy: all phases of a pulse are rows of one
array, and what goes over frequencies, phases, cursors or bins is one call.
Two-point convolutions run over whole densities; only those cursors that reach
half a step count, the others are a Gaussian.

Prints JSON with the figures, and the time without start and input.
"""

import json
import sys
import time

import numpy as np
from scipy.special import erfc

COARSE, FINE, STEP, FINER = 16, 64, 1 / 2048, 8


def smooth(least):
    while True:
        rest = least
        for prime in (2, 3, 5):
            while rest > 1 and rest % prime == 0:
                rest //= prime
        if rest == 1:
            return least
        least += 1


def pulse(spectrum, step, rate, samples):
    """Cursors of a window of one bit around the middle: rows are phases, the main cursor comes first."""
    bits = round(rate / step)
    wanted = bits * samples
    exact = abs(rate / step - bits) < 1e-6
    length = wanted if exact else smooth(max(wanted, 12 * len(spectrum)))
    folded = np.zeros(length, complex)
    np.add.at(folded, np.arange(len(spectrum)) % length, spectrum)
    if len(spectrum) <= length // 2:
        wave = np.fft.irfft(folded[: length // 2 + 1], length) * length * step
    else:
        folded[1:] *= 2
        wave = np.fft.ifft(folded).real * length * step
    if not exact:
        at = np.arange(wanted) * (length * step / rate / samples)
        low = np.floor(at).astype(int)
        x = at - low
        a, b, c, d, e, f = x + 2, x + 1, x, x - 1, x - 2, x - 3
        weights = (
            b * c * d * e * f / -120, a * c * d * e * f / 24, a * b * d * e * f / -12,
            a * b * c * e * f / 12, a * b * c * d * f / -24, a * b * c * d * e / 120,
        )
        wave = sum(weight * wave[(low + k - 2) % length] for k, weight in enumerate(weights))
    peak = int(np.argmax(wave))
    turned = np.roll(wave, -peak) <= 0.5 * wave[peak]
    after = int(np.argmax(turned[1:]))
    before = int(np.argmax(turned[:0:-1]))
    centre = peak + after // 2 - before // 2
    return np.roll(wave, samples // 2 - centre).reshape(bits, samples).T


def worst(cursors, limit):
    sums = np.abs(cursors).sum(1)
    main, following = cursors[:, 0], cursors[:, 1]
    others = sums - np.abs(main) - np.abs(following)
    taps = np.clip(following, -limit, limit)
    heights = main - np.abs(following - taps) - others
    best = int(np.argmax(heights))
    return heights[best], taps[best]


def gaussian(value, sigma):
    return 0.5 * erfc(-value / sigma / np.sqrt(2)) if sigma > 0 else (value >= 0).astype(float)


def bits_density(cursors):
    """Density of the sum of bits of these cursors, the place of its first bin, and the variance left out."""
    exact = np.abs(cursors) * (0.5 / STEP)
    small = exact < 0.5
    variance = float((exact[small] ** 2).sum())
    total = np.round(np.cumsum(exact[~small]))
    shifts = np.sort(np.diff(total, prepend=0)).astype(int)
    reach = int(shifts.sum())
    density = np.zeros(2 * reach + 1)
    density[reach] = 1
    wide = 0
    for shift in shifts[shifts > 0]:
        low, high = reach - wide, reach + wide + 1
        half = 0.5 * density[low:high]
        density[low:high] = 0
        density[low - shift : high - shift] += half
        density[low + shift : high + shift] += half
        wide += shift
    return density, -reach, variance


def jitter(phases, instant, rule):
    sigma, half = rule["random"] * phases, rule["deterministic"] * phases / 2
    centre = instant * phases
    reach = min(half + 8 * sigma + 2, phases)
    at = np.arange(int(np.floor(centre - reach)), int(np.ceil(centre + reach)) + 1)

    def near(dirac):
        away = at - dirac
        if sigma < 0.3:
            return np.maximum(1 - np.abs(away), 0)
        return gaussian(away + 0.5, sigma) - gaussian(away - 0.5, sigma)

    return at, 0.5 * (near(centre - half) + near(centre + half))


class Eye:
    def __init__(self, cursors, tap, noise, rule):
        self.rule, self.main = rule, cursors[:, 0]
        others = cursors[:, 1:].copy()
        others[:, 0] -= tap
        self.phases = []
        for row in others:
            density, first, variance = bits_density(row)
            sigma = np.sqrt((noise / STEP) ** 2 + variance)
            spread = int(np.ceil(8 * sigma)) + 1
            kernel = gaussian(np.arange(-spread, spread + 2), sigma)
            kernel[-1] = 1
            self.phases.append((density, first, np.cumsum(density), kernel, spread))

    def below(self, phase, value):
        density, first, sums, kernel, reach = self.phases[phase]
        place = (value - self.main[phase] / 2) / STEP
        offset = int(np.floor(place)) - first
        part = place - np.floor(place)
        whole = offset - reach
        sure = 0 if whole < 0 else sums[min(whole, len(sums) - 1)]
        low, high = max(whole + 1, 0), min(offset + reach, len(density) - 1)
        if low > high:
            return sure
        rows = offset - np.arange(low, high + 1) + reach
        step = kernel[rows]
        return sure + density[low : high + 1] @ (step + part * (kernel[rows + 1] - step))

    def width(self):
        count = len(self.phases)
        still = np.log(np.maximum([self.below(phase, 0) for phase in range(count)], 1e-300))
        fine = np.exp(np.interp(np.arange(count * FINER) / FINER, np.arange(count), still))
        at, weights = jitter(count * FINER, 0, self.rule)
        reach = max(-at[0], at[-1])
        padded = np.concatenate([np.full(reach, 0.5), fine, np.full(reach, 0.5)])
        kernel = np.zeros(2 * reach + 1)
        kernel[at + reach] = weights
        bathtub = np.convolve(padded, kernel[::-1], "valid")
        margins = np.log(self.rule["ratio"]) - np.log(np.maximum(bathtub, 1e-300))
        best = int(np.argmax(margins))
        if margins[best] <= 0:
            return 0.0, best / len(margins) - 0.5
        shut = np.flatnonzero(margins <= 0)
        left, right = shut[shut < best], shut[shut > best]
        first, last = (left[-1] + 1 if len(left) else 0), (right[0] - 1 if len(right) else len(margins) - 1)

        def end(inside, outside):
            if not 0 <= outside < len(margins):
                return 0.5
            return margins[inside] / (margins[inside] - margins[outside])

        width = last - first + end(first, first - 1) + end(last, last + 1)
        return width / len(margins), (first + last) / 2 / len(margins) - 0.5

    def height(self, instant):
        count, ratio = len(self.phases), self.rule["ratio"]
        at, weights = jitter(count, instant, self.rule)
        pairs = [(min(max(a + count // 2, 0), count - 1), w) for a, w in zip(at, weights) if w > ratio * 1e-3]
        low, high = -10.0, 10.0
        while high - low > STEP / 16:
            middle = 0.5 * (low + high)
            if sum(w * self.below(a, middle) for a, w in pairs) < ratio:
                low = middle
            else:
                high = middle
        return low + high


def filters(rule, f):
    rate = rule["rate"]
    sigma = rule["rise"] / 2.5631031310892008
    bit = np.sinc(f / rate) / rate * np.exp(-1j * np.pi * f / rate - 2 * (np.pi * f * sigma) ** 2)
    boards = np.exp(-(1 + 1j) * rule["boards"] * np.log(10) / 20 * np.sqrt(f / (rate / 2)))
    middle = (np.arange(64) + 0.5) / 64 * 0.75 * rate
    paths, gains = [bit * boards], [1.0]
    for db, zero, poles in rule["settings"]:
        def gain(f):
            return 10 ** (db / 20) * (1 + 1j * f / zero) / np.prod([1 + 1j * f / pole for pole in poles], axis=0)

        paths.append(paths[0] * gain(f))
        gains.append(float(np.sqrt((np.abs(gain(middle)) ** 2).mean())))
    return bit, paths, gains


def eyes(rule, step, lanes):
    f = step * np.arange(lanes.shape[1])
    bit, paths, gains = filters(rule, f)
    rate, found = rule["rate"], []
    for through in lanes:
        scores = [
            worst(pulse(through * path, step, rate, COARSE), rule["tap"])[0] - 12 * rule["noise"] * gain
            for path, gain in zip(paths, gains)
        ]
        choice = int(np.argmax(scores))
        lane = []
        for spectrum, limit, gain in ((bit, 0.0, 1.0), (paths[choice], rule["tap"], gains[choice])):
            cursors = pulse(through * spectrum, step, rate, FINE)
            _, tap = worst(cursors, limit)
            eye = Eye(cursors, tap, rule["noise"] * gain, rule)
            width, instant = eye.width()
            lane.append([eye.height(instant) * rule["launch"], width])
        found.append(lane)
    return found


def main():
    data = json.load(sys.stdin)
    lanes = np.array(data["lanes"]) @ np.array([1, 1j])
    wall, user = time.perf_counter(), time.process_time()
    found = [eyes(rule, data["step"], lanes) for rule in data["rates"]]
    took = {"wall": time.perf_counter() - wall, "user": time.process_time() - user}
    print(json.dumps({"eyes": found, **took}))


if __name__ == "__main__":
    main()
