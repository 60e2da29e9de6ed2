"""Answers questions of the tests with SciPy, which shares no code with steadyrail.

Standard input: a list of {"f": name, "args": [...]}. Standard output: a list of
numbers, or of lists of numbers, in the same order.
"""
import json
import sys

import numpy as np
from scipy import integrate, optimize, stats


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


def hamed_rao(y):
    """Mann and Kendall's test with the variance of Hamed and Rao, Journal of Hydrology 204 (1998) 182.

    Equations as published: correlations of the ranks of the series less its
    median slope, those beyond the 95 % limits only. Never less than the variance of
    independent readings, which is our choice. S, tau-b, deviation of S, Z, p.
    """
    y = np.asarray(y)
    n = len(y)
    s = np.sum(np.sign(np.subtract.outer(y, y))[np.tril_indices(n, -1)])
    rest = y - stats.theilslopes(y)[0] * np.arange(n)
    ranks = stats.rankdata(rest)
    ranks -= ranks.mean()
    rho = np.correlate(ranks, ranks, "full")[n:] / np.dot(ranks, ranks)
    lag = np.arange(1, n)
    rho = np.where(np.abs(rho) > stats.norm.ppf(0.975) / np.sqrt(n), rho, 0)
    factor = 1 + 2 / (n * (n - 1) * (n - 2)) * np.sum((n - lag) * (n - lag - 1) * (n - lag - 2) * rho)
    ties = np.unique(y, return_counts=True)[1]
    variance = (n * (n - 1) * (2 * n + 5) - np.sum(ties * (ties - 1) * (2 * ties + 5))) / 18
    sd = np.sqrt(variance * max(1, factor))
    z = (s - np.sign(s)) / sd
    return [float(v) for v in (s, stats.kendalltau(np.arange(n), y)[0], sd, z, 2 * stats.norm.sf(abs(z)))]


def exponential_bound(window):
    """Cramer and Rao: sd of the final value of level + amplitude exp(-t), times root n over sigma."""
    t = (np.arange(4000) + 0.5) / 4000 * window
    g = np.stack([np.ones_like(t), np.exp(-t), t * np.exp(-t)])
    return float(np.sqrt(np.linalg.inv(g @ g.T / len(t))[0, 0]))


def tolerance_factor(n, p, c):
    """Two-sided k of a normal population, mean and deviation from n values.

    Given the mean's error m, the half-width r holds p when the noncentral
    chi-square with one degree of freedom has r*r as its p-quantile; the
    confidence is the chance that k*s is at least r, summed over m.
    """
    def short_of(k):
        def density(m):
            r2 = stats.ncx2.ppf(p, 1, m * m) if m > 1e-9 else stats.chi2.ppf(p, 1)
            return stats.chi2.sf((n - 1) * r2 / k**2, n - 1) * 2 * stats.norm.pdf(m, scale=1 / np.sqrt(n))
        return integrate.quad(density, 0, 8 / np.sqrt(n), epsabs=1e-9)[0] - c
    # the one-sided factor (noncentral t) bounds it from below
    one_sided = stats.nct.ppf(c, n - 1, stats.norm.ppf(p) * np.sqrt(n)) / np.sqrt(n)
    return optimize.brentq(short_of, one_sided, 10 * one_sided, xtol=1e-8)


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
    "theil_sen": lambda x, y, c: [float(v) for v in np.take(stats.theilslopes(y, x, c), [0, 2, 3])],
    "hamed_rao": hamed_rao,
    "exponential_bound": exponential_bound,
    "spread_factors": lambda v: [float(np.sqrt(v / stats.chi2.ppf(p, v))) for p in (stats.norm.cdf(2), stats.norm.cdf(-2))],
    "line": lambda x, y: (lambda f: [f.intercept, f.slope, f.intercept_stderr, f.stderr])(stats.linregress(x, y)),
    "tolerance_factor": tolerance_factor,
    "tolerance": lambda n, p: stats.binom.cdf(n - 2, n, p),
}

json.dump([ANSWERS[q["f"]](*q["args"]) for q in json.load(sys.stdin)], sys.stdout)
