#!/usr/bin/env python3
"""Compare the statistics of a lot with those of scipy.

Standard input holds one JSON object a line: {"what": NAME, "of": [arguments], "value": number}. Values must agree to nine
digits, those of `line` and `trend` to seven.

Exit status 0: every value agrees. 1: one differs, a line is malformed, or no line was read.
"""

import json
import math
import sys

from scipy import stats


def jarque_bera(values):
    n = len(values)
    return math.exp(-n / 6 * (stats.skew(values) ** 2 + stats.kurtosis(values) ** 2 / 4) / 2)


def line(points, which):
    fitted = stats.linregress([x for x, _ in points], [y for _, y in points])
    t = stats.t.ppf(0.975, len(points) - 2)
    return {
        "intercept": fitted.intercept,
        "slope": fitted.slope,
        "intercept half": t * fitted.intercept_stderr,
        "slope half": t * fitted.stderr,
    }[which]


def trend(series):
    """The sum of the scores of the bad ones, standardised as Mann and Whitney's, but for its scores: by pearsonr, for which
    z = r * sqrt(n - 1) with the variance of drawing without putting back."""
    scores, bad = [], []
    for units, at, found in series:
        scores += [at] * units
        bad += [1] * found + [0] * (units - found)
    return stats.pearsonr(scores, bad).statistic * math.sqrt(len(scores) - 1)


WHAT = {
    "binomial": lambda n, c, p: stats.binom.cdf(c, n, p),
    "hypergeometric": lambda lot, bad, n, c: stats.hypergeom.cdf(c, lot, bad, n),
    "upper": lambda k, n, confidence: 1.0 if k == n else stats.beta.ppf(confidence, k + 1, n - k),
    "low": lambda k, n, confidence: 0.0 if k == 0 else stats.beta.ppf((1 - confidence) / 2, k, n - k + 1),
    "high": lambda k, n, confidence: 1.0 if k == n else stats.beta.ppf(1 - (1 - confidence) / 2, k + 1, n - k),
    "split": lambda lot, bad, n, found: stats.hypergeom.sf(found - 1, lot, bad, n),
    "trend": trend,
    "mad": lambda values: stats.median_abs_deviation(values, scale="normal"),
    "deviation": lambda values: stats.tstd(values),
    "normal tail": lambda values, limit: 1e6 * stats.norm.sf((limit - sum(values) / len(values)) / stats.tstd(values)),
    "jarque-bera": jarque_bera,
    "line": line,
}
DIGITS = {"line": 1e-7, "trend": 1e-7, "mad": 1e-6}


def main():
    read = 0
    for number, text in enumerate(sys.stdin, 1):
        try:
            data = json.loads(text)
            expected = float(WHAT[data["what"]](*data["of"]))
            value = float(data["value"])
        except (ValueError, KeyError, TypeError) as error:
            print(f"line {number}: {error}: {text.strip()}")
            return 1
        read += 1
        if not math.isclose(value, expected, rel_tol=DIGITS.get(data["what"], 1e-9), abs_tol=1e-14):
            print(f"line {number}: {text.strip()}: scipy has {expected!r}")
            return 1
    if read == 0:
        print("no line was read")
        return 1
    print(f"{read} values agree")
    return 0


if __name__ == "__main__":
    sys.exit(main())
