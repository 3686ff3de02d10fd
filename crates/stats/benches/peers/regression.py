"""The peer of benches/regression.rs: the same fits through statsmodels, timed in this process.

    python regression.py INPUT.json

Reads monthly counts with their sizes and measurements, and prints one JSON object: versions, and per task the seconds (the
best of several runs) and the answers: estimates and standard errors of four terms. What was avoided and its interval,
which ours gives in the same call, is not asked of the peer. The columns are made within the time, as ours makes them.
"""

import json
import sys
import time

import numpy as np
import statsmodels
import statsmodels.api as sm


def best_of(times, work):
    seconds, answer = [], None
    for _ in range(times):
        start = time.perf_counter()
        answer = work()
        seconds.append(time.perf_counter() - start)
    return min(seconds), answer


def columns(n, before):
    month = np.arange(1.0, n + 1)
    after = (month > before).astype(float)
    return np.column_stack([np.ones(n), month, after, np.where(after > 0, month - before, 0.0)])


def logistic(events, trials, before):
    pairs = np.column_stack([events, trials - events])
    fit = sm.GLM(pairs, columns(len(events), before), family=sm.families.Binomial()).fit(tol=1e-12)
    # scale="X2" leaves the numbers of trials out of the dispersion of paired counts (statsmodels 0.15.0).
    return np.concatenate([fit.params, fit.bse * np.sqrt(fit.pearson_chi2 / fit.df_resid)])


def poisson(events, exposure, before, lag):
    model = sm.GLM(events, columns(len(events), before), family=sm.families.Poisson(), offset=np.log(exposure))
    keywords = {"maxlags": lag, "use_correction": True}
    fit = model.fit(cov_type="HAC", cov_kwds=keywords, tol=1e-12)
    return np.concatenate([fit.params, fit.bse])


def least_squares(values, before, lag):
    fit = sm.OLS(values, columns(len(values), before)).fit()
    robust = fit.get_robustcov_results("HAC", maxlags=lag, use_correction=True)
    return np.concatenate([robust.params, robust.bse])


def main(path):
    with open(path, encoding="utf-8") as lines:
        given = json.load(lines)
    events, trials = np.array(given["events"], dtype=float), np.array(given["trials"], dtype=float)
    values, before, lag = np.array(given["values"]), given["before"], given["lag"]
    tasks = {
        "quasi-binomial, 240 months": best_of(30, lambda: logistic(events, trials, before)),
        "Poisson, Newey-West, 240 months": best_of(30, lambda: poisson(events, trials, before, lag)),
        "least squares, Newey-West, 240 months": best_of(30, lambda: least_squares(values, before, lag)),
    }
    print(
        json.dumps(
            {
                "versions": f"numpy {np.__version__}, statsmodels {statsmodels.__version__}",
                "tasks": {
                    name: {"seconds": seconds, "answer": np.asarray(answer, dtype=float).ravel().tolist()}
                    for name, (seconds, answer) in tasks.items()
                },
            }
        )
    )


if __name__ == "__main__":
    main(sys.argv[1])
