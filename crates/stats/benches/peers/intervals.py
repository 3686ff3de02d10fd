"""The peer of benches/intervals.rs: the same input through statsmodels and scipy, timed in this process.

    python intervals.py INPUT.json

Reads {"x": [...], "n": [...], "people_x": [...], "people_n": [...]} and prints one JSON object: versions, and per
task the seconds (the best of several runs) and the answers. "arrays" hands the library whole arrays; "one by one"
calls it once per pair, as code that handles people one at a time does.
"""

import json
import sys
import time

import numpy as np
import scipy
import statsmodels
from scipy import optimize, special, stats
from statsmodels.stats.proportion import proportion_confint


def best_of(times, work):
    seconds, answer = [], None
    for _ in range(times):
        start = time.perf_counter()
        answer = work()
        seconds.append(time.perf_counter() - start)
    return min(seconds), answer


def one_by_one(x, n, method):
    bounds = [proportion_confint(a, b, method=method) for a, b in zip(x, n)]
    return [low for low, _ in bounds], [high for _, high in bounds]


def likelihood_with_slopes(x, n):
    """The likelihood written with betaln and its slopes with digamma: about the best that scipy offers."""

    def negative(log_shapes):
        a, b = np.exp(log_shapes)
        value = (special.betaln(a + x, b + n - x) - special.betaln(a, b)).sum()
        common = special.digamma(a + b) - special.digamma(a + b + n)
        by_a = a * (special.digamma(a + x) - special.digamma(a) + common).sum()
        by_b = b * (special.digamma(b + n - x) - special.digamma(b) + common).sum()
        return -value, -np.array([by_a, by_b])

    # L-BFGS-B stops when a step gains too little, so the last digits come from a root of the slopes.
    found = optimize.minimize(negative, [0.0, 3.0], jac=True, method="L-BFGS-B")
    root = optimize.root(lambda place: negative(place)[1], found.x, tol=1e-12)
    return np.exp(root.x)


def likelihood_as_usually_written(x, n):
    """The same through scipy.stats.betabinom, without slopes."""

    def negative(log_shapes):
        a, b = np.exp(log_shapes)
        return -stats.betabinom.logpmf(x, n, a, b).sum()

    found = optimize.minimize(negative, [0.0, 3.0], method="Nelder-Mead", options={"xatol": 1e-8, "fatol": 1e-8})
    return np.exp(found.x)


def main(path):
    with open(path, encoding="utf-8") as lines:
        given = json.load(lines)
    x, n = np.array(given["x"]), np.array(given["n"])
    people_x, people_n = np.array(given["people_x"]), np.array(given["people_n"])
    tasks = {
        "wilson, arrays": best_of(100, lambda: proportion_confint(x, n, method="wilson")),
        "wilson, one by one": best_of(2, lambda: one_by_one(given["x"], given["n"], "wilson")),
        "clopper_pearson, arrays": best_of(60, lambda: proportion_confint(x, n, method="beta")),
        "clopper_pearson, one by one": best_of(1, lambda: one_by_one(given["x"], given["n"], "beta")),
        "beta_binomial, with slopes": best_of(40, lambda: likelihood_with_slopes(people_x, people_n)),
        "beta_binomial, as usually written": best_of(1, lambda: likelihood_as_usually_written(people_x, people_n)),
    }
    versions = f"numpy {np.__version__}, scipy {scipy.__version__}, statsmodels {statsmodels.__version__}"
    print(
        json.dumps(
            {
                "versions": versions,
                "tasks": {
                    name: {"seconds": seconds, "answer": np.asarray(answer, dtype=float).ravel().tolist()}
                    for name, (seconds, answer) in tasks.items()
                },
            }
        )
    )


if __name__ == "__main__":
    main(sys.argv[1])
