"""Answers questions of the tests with SciPy, which shares no code with steadyrail.

Standard input: a list of {"f": name, "args": [...]}. Standard output: a list of
numbers, or of lists of numbers, in the same order.
"""
import json
import sys

import numpy as np
from scipy import integrate, stats


def rect_normal(y, a, s, low, high):
    """P(low < truth < high): truth = y - error, error rectangular(-a, a) + normal(s), by quadrature."""
    def density(e):
        return (stats.norm.cdf((high - y + e) / s) - stats.norm.cdf((low - y + e) / s)) / (2 * a)
    edges = [p for p in (y - low, y - high, low - y, high - y) if -a < p < a]
    return integrate.quad(density, -a, a, points=edges or None, limit=400, epsabs=1e-12)[0]


def seen(dip, aperture, period, depth, threshold, trials):
    """Monte Carlo: share of random moments at which one of the readings shows the dip."""
    rng = np.random.default_rng(20310312)
    start = rng.uniform(0, period, int(trials))
    best = np.zeros_like(start)
    for k in range(-2, int(dip / period) + 3):
        begin = k * period - start  # of a reading, from the beginning of the dip
        best = np.maximum(best, np.minimum(begin + aperture, dip) - np.maximum(begin, 0))
    return float(np.mean(best * depth / aperture >= threshold - 1e-12))


ANSWERS = {
    "poisson_upper": lambda r, c: stats.chi2.ppf(c, 2 * r + 2) / 2,
    "poisson_lower": lambda r, c: stats.chi2.ppf(1 - c, 2 * r) / 2 if r else 0.0,
    "binomial_upper": lambda k, n, c: stats.beta.ppf(c, k + 1, n - k) if k < n else 1.0,
    "binomial_lower": lambda k, n, c: stats.beta.ppf(1 - c, k, n - k + 1) if k else 0.0,
    "binomial_two_sided": lambda k, n, c: list(stats.binomtest(int(k), int(n)).proportion_ci(c, "exact")),
    "t_quantile": lambda p, v: stats.t.ppf(p, v),
    "normal_cdf": lambda z: stats.norm.cdf(z),
    "rect_normal": rect_normal,
    "seen": seen,
    "theil_sen": lambda x, y, c: list(stats.theilslopes(y, x, c))[:1],
    "kendall_s": lambda y: float(sum(np.sign(y[j] - y[i]) for i in range(len(y)) for j in range(i + 1, len(y)))),
    "line": lambda x, y: (lambda f: [f.intercept, f.slope, f.intercept_stderr, f.stderr])(stats.linregress(x, y)),
    "tolerance": lambda n, p: stats.binom.cdf(n - 2, n, p),
}

json.dump([ANSWERS[q["f"]](*q["args"]) for q in json.load(sys.stdin)], sys.stdout)
