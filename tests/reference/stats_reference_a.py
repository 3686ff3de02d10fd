"""Distributions, proportions, charts and people: scipy, statsmodels, or the formula written out in numpy."""

import warnings

import mpmath
import numpy as np
from scipy import optimize, special, stats
from statsmodels.stats import proportion as sm
from statsmodels.stats.contingency_tables import Table2x2
from statsmodels.stats.multitest import multipletests

from stats_reference import reference

warnings.filterwarnings("ignore")

LEVELS = [0.5, 0.8, 0.9, 0.95, 0.99, 0.998]


def counts(random, n_cases):
    """(x, n) with the ends, small and large n, rare and common."""
    yield from [(0, 1), (1, 1), (0, 2), (1, 2), (0, 20), (20, 20), (1, 1000), (999, 1000), (0, 1000000), (3, 1000000)]
    yield from [(1000000, 1000000), (266501, 280443), (5, 280443)]
    for _ in range(n_cases):
        n = int(10 ** random.uniform(0, 6))
        p = random.choice([random.uniform(), 10 ** random.uniform(-4, -0.5), 1 - 10 ** random.uniform(-4, -0.5)])
        yield int(random.binomial(n, p)), n


def level(random):
    return float(random.choice(LEVELS))


# Distributions.


@reference("normal_quantile")
def normal_quantile(random):
    for p in [1e-300, 1e-100, 1e-20, 1e-10, 0.00135, 0.025, 0.5, 0.975, 1 - 1e-10]:
        yield [p], [special.ndtri(p)]
    for _ in range(200):
        p = 10 ** random.uniform(-30, -0.01)
        yield [p], [special.ndtri(p)]


@reference("normal_sf")
def normal_sf(random):
    for z in np.concatenate([[0.0, 37.0, -37.0, 1.959964], random.uniform(-8, 37, 200)]):
        yield [z], [stats.norm.sf(z)]


def shapes(random):
    return 10 ** random.uniform(-1, 5.7), 10 ** random.uniform(-1, 5.7)


@reference("beta_cdf")
def beta_cdf(random):
    for _ in range(400):
        a, b = shapes(random)
        x = random.choice([random.beta(a, b), random.uniform()])
        if 0 < x < 1:
            below, above = special.betainc(a, b, x), special.betaincc(a, b, x)
            if below > 1e-290 and above > 1e-290:
                yield [a, b, x], [below, above]


@reference("beta_cdf_precise")
def beta_cdf_precise(random):
    # Forty digits, where one shape is large and x is close to 1.
    with mpmath.workdps(40):
        for _ in range(200):
            a, b = 10 ** random.uniform(2, 5.7), 10 ** random.uniform(-0.5, 1.3)
            y = random.beta(b, a)
            x = 1 - y
            y = 1 - mpmath.mpf(x)
            above = mpmath.betainc(b, a, 0, y, regularized=True)
            yield [a, b, x], [float(1 - above), float(above)]


@reference("poisson_pmf_precise")
def poisson_pmf_precise(random):
    with mpmath.workdps(40):
        for _ in range(200):
            mean = 10 ** random.uniform(-3, 6)
            k = int(random.poisson(mean))
            m = mpmath.mpf(mean)
            yield [k, mean], [float(mpmath.exp(k * mpmath.log(m) - m - mpmath.loggamma(k + 1)))]


@reference("beta_quantile")
def beta_quantile(random):
    for a, b, p in [(0.5, 0.5, 0.025), (0.5, 100000.5, 0.025), (1, 1, 0.3), (1e-2, 5, 0.5), (3, 1e6, 0.00135)]:
        yield [a, b, p], [special.betaincinv(a, b, p)]
    for _ in range(300):
        a, b = shapes(random)
        p = random.choice([random.uniform(), 10 ** random.uniform(-6, -1), 1 - 10 ** random.uniform(-6, -1)])
        yield [a, b, p], [special.betaincinv(a, b, p)]


@reference("gamma_cdf")
def gamma_cdf(random):
    for _ in range(300):
        shape = 10 ** random.uniform(-1, 6)
        x = random.choice([random.gamma(shape), shape * 10 ** random.uniform(-1, 1)])
        below, above = special.gammainc(shape, x), special.gammaincc(shape, x)
        if below > 1e-290 and above > 1e-290:
            yield [shape, x], [below, above]


@reference("gamma_quantile")
def gamma_quantile(random):
    for _ in range(300):
        shape = 10 ** random.uniform(-1, 6)
        p = random.choice([random.uniform(), 10 ** random.uniform(-6, -1), 1 - 10 ** random.uniform(-6, -1)])
        yield [shape, p], [special.gammaincinv(shape, p)]


@reference("student_t_quantile")
def student_t_quantile(random):
    for _ in range(200):
        df = 10 ** random.uniform(0, 4)
        p = random.choice([random.uniform(), 10 ** random.uniform(-6, -1)])
        yield [p, df], [special.stdtrit(df, p)]


@reference("binomial")
def binomial(random):
    for x, n in counts(random, 250):
        p = float(random.choice([random.uniform(0.001, 0.999), np.clip(x / n * random.uniform(0.8, 1.2), 1e-6, 0.999999)]))
        q = float(random.choice([random.uniform(), 0.00135, 0.99865, 0.025]))
        pmf, cdf, sf = stats.binom.pmf(x, n, p), stats.binom.cdf(x, n, p), stats.binom.sf(x, n, p)
        yield [x, n, p, q], [pmf, cdf, sf, stats.binom.ppf(q, n, p)]


@reference("poisson")
def poisson(random):
    for _ in range(250):
        mean = 10 ** random.uniform(-3, 5)
        k = int(random.poisson(mean))
        q = float(random.choice([random.uniform(), 0.00135, 0.99865]))
        yield [k, mean, q], [
            stats.poisson.pmf(k, mean),
            stats.poisson.cdf(k, mean),
            stats.poisson.sf(k, mean),
            stats.poisson.ppf(q, mean),
        ]


# One proportion.


@reference("wilson")
def wilson(random):
    for x, n in counts(random, 250):
        c = level(random)
        low, high = sm.proportion_confint(x, n, alpha=1 - c, method="wilson")
        yield [x, n, c], [0.0 if x == 0 else low, 1.0 if x == n else high]


@reference("wilson_continuity_corrected")
def wilson_continuity_corrected(random):
    # Newcombe's closed form, in extended precision: in double it cancels near the ends.
    for x, n in counts(random, 250):
        c = level(random)
        z = np.longdouble(special.ndtri(1 - (1 - c) / 2))
        n_, p = np.longdouble(n), np.longdouble(x) / np.longdouble(n)
        q = 1 - p
        low = (2 * n_ * p + z * z - 1 - z * np.sqrt(z * z - 2 - 1 / n_ + 4 * p * (n_ * q + 1))) / (2 * (n_ + z * z))
        high = (2 * n_ * p + z * z + 1 + z * np.sqrt(z * z + 2 - 1 / n_ + 4 * p * (n_ * q - 1))) / (2 * (n_ + z * z))
        yield [x, n, c], [0.0 if x == 0 else float(low), 1.0 if x == n else float(high)]


@reference("clopper_pearson")
def clopper_pearson(random):
    for x, n in counts(random, 250):
        c = level(random)
        yield [x, n, c], list(sm.proportion_confint(x, n, alpha=1 - c, method="beta"))


@reference("jeffreys")
def jeffreys(random):
    for x, n in counts(random, 250):
        c = level(random)
        low, high = sm.proportion_confint(x, n, alpha=1 - c, method="jeffreys")
        yield [x, n, c], [0.0 if x == 0 else low, 1.0 if x == n else high]


@reference("mid_p")
def mid_p(random):
    for x, n in counts(random, 250):
        c = level(random)
        tail = (1 - c) / 2
        half = lambda p: 0.5 * stats.binom.pmf(x, n, p)
        below = lambda p: stats.binom.cdf(x - 1, n, p) + half(p) - tail
        above = lambda p: stats.binom.sf(x, n, p) + half(p) - tail
        solve = lambda f, a, b: optimize.brentq(f, a, b, xtol=1e-300, rtol=1e-14, maxiter=1000)
        low = 0.0 if x == 0 else solve(above, 1e-12, 1.0)
        high = 1.0 if x == n else solve(below, 1e-12, 1 - 1e-16)
        yield [x, n, c], [low, high]


@reference("poisson_exact")
def poisson_exact(random):
    for case in range(250):
        x = case if case < 10 else int(10 ** random.uniform(0, 6))
        exposure, c = 10 ** random.uniform(-2, 4), level(random)
        tail = (1 - c) / 2
        low = 0.0 if x == 0 else stats.gamma.ppf(tail, x) / exposure
        yield [x, exposure, c], [low, stats.gamma.isf(tail, x + 1) / exposure]


# Two proportions.


def pairs(random, n_cases, most):
    yield from [(0, 5, 0, 5), (5, 5, 0, 5), (0, 5, 5, 5), (5, 5, 5, 5), (1, 1, 0, 1), (3, 4, 1, 4), (11, 12, 3, 12)]
    for _ in range(n_cases):
        n1, n2 = int(10 ** random.uniform(0, most)), int(10 ** random.uniform(0, most))
        p = random.choice([random.uniform(), 10 ** random.uniform(-2, -0.5)])
        ratio = random.uniform(0.3, 1.7)
        yield int(random.binomial(n1, p)), n1, int(random.binomial(n2, min(1, p * ratio))), n2


@reference("difference_newcombe")
def difference_newcombe(random):
    for x1, n1, x2, n2 in pairs(random, 250, 4):
        c = level(random)
        yield [x1, n1, x2, n2, c], sm.confint_proportions_2indep(
            x1, n1, x2, n2, method="newcomb", compare="diff", alpha=1 - c
        )


@reference("risk_ratio_katz")
def risk_ratio_katz(random):
    for x1, n1, x2, n2 in pairs(random, 400, 4):
        if x1 and x2 and n1 > x1 and n2 > x2:
            c = level(random)
            table = Table2x2([[x1, n1 - x1], [x2, n2 - x2]], shift_zeros=False)
            low, high = table.riskratio_confint(alpha=1 - c)
            yield [x1, n1, x2, n2, c], [table.riskratio, low, high]


@reference("risk_ratio_score")
def risk_ratio_score(random):
    # The statistic of statsmodels, solved here to the last digits: its own interval stops at about 1e-6.
    for x1, n1, x2, n2 in pairs(random, 400, 3.5):
        if not (0 < x1 < n1 and 0 < x2 < n2):
            continue
        c = level(random)
        limit = special.ndtri(1 - (1 - c) / 2)

        def excess(log_ratio):
            found = sm.test_proportions_2indep(
                x1, n1, x2, n2, value=np.exp(log_ratio), compare="ratio", method="score", correction=False
            )
            return abs(found.statistic) - limit

        middle = np.log(x1 / n1 / (x2 / n2))
        solve = lambda a, b: np.exp(optimize.brentq(excess, a, b, xtol=1e-15, rtol=1e-14, maxiter=500))
        yield [x1, n1, x2, n2, c], [solve(middle - 20, middle), solve(middle, middle + 20)]


@reference("fisher_exact")
def fisher_exact(random):
    for x1, n1, x2, n2 in pairs(random, 250, 3.5):
        table = [[x1, n1 - x1], [x2, n2 - x2]]
        want = [stats.fisher_exact(table, alternative=side).pvalue for side in ("less", "greater", "two-sided")]
        yield [x1, n1, x2, n2], want


@reference("conditional_odds_ratio")
def conditional_odds_ratio(random):
    for x1, n1, x2, n2 in pairs(random, 400, 2):
        if x1 + x2 == 0 or x1 + x2 == n1 + n2:
            continue
        c = level(random)
        found = stats.contingency.odds_ratio([[x1, n1 - x1], [x2, n2 - x2]], kind="conditional")
        interval = found.confidence_interval(confidence_level=c)
        yield [x1, n1, x2, n2, c], [found.statistic, interval.low, interval.high]


# Sizes.


@reference("zero_failure_upper")
def zero_failure_upper(random):
    for _ in range(200):
        n, c = int(10 ** random.uniform(0, 6)), level(random)
        yield [n, c], [stats.beta.isf(1 - c, 1, n)]


@reference("clean_trials_needed")
def clean_trials_needed(random):
    for _ in range(200):
        p, c, k = 10 ** random.uniform(-2.5, -0.1), level(random), int(random.integers(0, 6))
        n = np.arange(k + 1, 20000)
        yield [p, c, k], [int(n[np.argmax(stats.binom.cdf(k, n, p) <= (1 - c) * (1 + 1e-12))])]


@reference("one_sided_sample_size")
def one_sided_sample_size(random):
    done = 0
    while done < 200:
        p0, p1 = random.uniform(0.01, 0.6), random.uniform(0.01, 0.6)
        if abs(p1 - p0) < 0.05:
            continue
        alpha, power = float(random.choice([0.01, 0.05, 0.1])), float(random.choice([0.7, 0.8, 0.9]))
        for n in range(1, 5000):
            if p1 > p0:
                act = int(stats.binom.isf(alpha, n, p0)) + 1
                size, reached = stats.binom.sf(act - 1, n, p0), stats.binom.sf(act - 1, n, p1)
            else:
                act = int(stats.binom.ppf(alpha, n, p0))
                if stats.binom.cdf(act, n, p0) > alpha:
                    act -= 1
                size, reached = stats.binom.cdf(act, n, p0), stats.binom.cdf(act, n, p1)
            if size <= alpha and reached >= power:
                yield [p0, p1, alpha, power], [n, act, size, reached]
                done += 1
                break


@reference("benjamini_hochberg")
def benjamini_hochberg(random):
    for case in range(200):
        p = random.uniform(size=int(random.integers(1, 40))) ** random.choice([1, 3])
        if case % 5 == 0:
            p = np.round(p, 1)
        yield [list(p)], [list(multipletests(p, method="fdr_bh")[1])]
