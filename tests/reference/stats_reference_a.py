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


# Charts: the formula written out in numpy. Each row gives values, centre, lower, upper (None where there is none).


def drawn(values, centre, lower, upper, floor=0.0, ceiling=np.inf):
    n = len(values)
    spread = lambda v: np.broadcast_to(np.asarray(v, dtype=float), n)
    lower = [None if v <= floor else v for v in spread(lower)]
    upper = [None if v >= ceiling else v for v in spread(upper)]
    return [list(values), list(spread(centre)), lower, upper]


def series(random):
    n_points = int(random.integers(4, 40))
    rate = random.choice([0.02, 0.1, 0.5, 0.93])
    while True:
        n = random.integers(5, int(10 ** random.uniform(1, 4)) + 6, n_points)
        x = random.binomial(n, np.clip(random.normal(rate, rate / 10, n_points), 0, 1))
        if 0 < x.sum() < n.sum():
            return x, n


@reference("p_normal")
def p_normal(random):
    for _ in range(200):
        x, n = series(random)
        centre = x.sum() / n.sum()
        s = np.sqrt(centre * (1 - centre) / n)
        yield [x, n], drawn(x / n, centre, centre - 3 * s, centre + 3 * s, ceiling=1.0)


@reference("p_exact")
def p_exact(random):
    tail = stats.norm.sf(3)
    for _ in range(200):
        x, n = series(random)
        centre = x.sum() / n.sum()
        upper = n - stats.binom.ppf(tail, n, 1 - centre)
        yield [x, n], drawn(x / n, centre, stats.binom.ppf(tail, n, centre) / n, upper / n, ceiling=1.0)


@reference("p_prime")
def p_prime(random):
    done = 0
    while done < 200:
        x, n = series(random)
        centre = x.sum() / n.sum()
        s = np.sqrt(centre * (1 - centre) / n)
        sigma = np.abs(np.diff((x / n - centre) / s)).mean() / 1.128
        if sigma == 0:
            continue
        done += 1
        yield [x, n], drawn(x / n, centre, centre - 3 * s * sigma, centre + 3 * s * sigma, ceiling=1.0)


@reference("u_chart")
def u_chart(random):
    for _ in range(200):
        exposure = random.uniform(0.1, 50, int(random.integers(1, 40)))
        x = random.poisson(exposure * 10 ** random.uniform(-1, 2))
        if x.sum() == 0:
            x[0] = 1
        centre = x.sum() / exposure.sum()
        s = np.sqrt(centre / exposure)
        yield [x, exposure], drawn(x / exposure, centre, centre - 3 * s, centre + 3 * s)


@reference("g_chart")
def g_chart(random):
    for _ in range(200):
        gaps = random.geometric(10 ** random.uniform(-3, -0.3), int(random.integers(2, 40))) - 1
        if gaps.sum() == 0:
            gaps[0] = 1
        mean = gaps.mean()
        tail = stats.norm.sf(3)
        quantile = lambda q: stats.nbinom.ppf(q, 1, 1 / (mean + 1))
        s = np.sqrt(mean * (mean + 1))
        yield [gaps], [mean + 3 * s, np.median(gaps), quantile(1 - tail), quantile(tail)]


@reference("t_chart")
def t_chart(random):
    for _ in range(200):
        times = random.exponential(10 ** random.uniform(-1, 4), int(random.integers(2, 40)))
        y = times ** (1 / 3.6)
        s = np.abs(np.diff(y)).mean() / 1.128
        back = lambda v: max(v, 0.0) ** 3.6
        yield [times], drawn(times, back(y.mean()), back(y.mean() - 3 * s), back(y.mean() + 3 * s))


@reference("individuals_chart")
def individuals_chart(random):
    for _ in range(200):
        x = random.normal(random.uniform(-100, 100), 10 ** random.uniform(-2, 2), int(random.integers(2, 40)))
        s = np.abs(np.diff(x)).mean() / 1.128
        yield [x], drawn(x, x.mean(), x.mean() - 3 * s, x.mean() + 3 * s, floor=-np.inf)


@reference("xbar_s_chart")
def xbar_s_chart(random):
    for case in range(200):
        k = int(random.integers(2, 20))
        sizes = np.full(k, random.integers(2, 12)) if case % 2 else random.integers(2, 12, k)
        if case % 2 == 0 and len(set(sizes)) == 1:
            sizes[0] += 1
        groups = [random.normal(8.0, 1.5, size) for size in sizes]
        s = np.array([group.std(ddof=1) for group in groups])
        mean = np.concatenate(groups).mean()
        if case % 2:
            spread = s.mean()
        else:
            spread = np.sqrt(((sizes - 1) * s**2).sum() / (sizes.sum() - k))
        c4 = np.sqrt(2 / (sizes - 1)) * np.exp(special.gammaln(sizes / 2) - special.gammaln((sizes - 1) / 2))
        width = 3 * spread / c4 / np.sqrt(sizes)
        means = drawn([group.mean() for group in groups], mean, mean - width, mean + width, floor=-np.inf)
        width = 3 * spread / c4 * np.sqrt(1 - c4**2)
        yield [groups], [means, drawn(s, spread, spread - width, spread + width)]


@reference("ewma_chart")
def ewma_chart(random):
    for _ in range(200):
        x = random.normal(10, 2, int(random.integers(1, 60)))
        weight, width, sigma = random.uniform(0.02, 1), random.uniform(2, 3.5), random.uniform(0.5, 3)
        i = np.arange(1, len(x) + 1)
        powers = (1 - weight) ** np.arange(len(x))
        z = [weight * (powers[: k][::-1] * x[:k]).sum() + (1 - weight) ** k * 10.0 for k in i]
        half = width * sigma * np.sqrt(weight / (2 - weight) * (1 - (1 - weight) ** (2 * i)))
        yield [x, 10.0, sigma, weight, width], drawn(z, 10.0, 10 - half, 10 + half, floor=-np.inf)


@reference("runs_analysis")
def runs_analysis(random):
    for case in range(200):
        x = np.round(np.cumsum(random.normal(size=int(random.integers(2, 80)))) * (case % 2) + random.normal(), 1)
        x = x + np.round(random.normal(size=len(x)), 1)
        centre = float(np.median(x))
        side = np.sign(x - centre)
        side = side[side != 0]
        n = len(side)
        if n == 0:
            continue
        change = np.flatnonzero(np.diff(side)) + 1
        longest = max(len(run) for run in np.split(side, change))
        yield [x, centre], [n, longest, round(np.log2(n)) + 3, len(change), stats.binom.ppf(0.05, n - 1, 0.5) if n > 1 else 0]


# People.


@reference("funnel_exact")
def funnel_exact(random):
    for _ in range(250):
        theta, n, c = random.uniform(0.005, 0.6), int(10 ** random.uniform(0, 4)), float(random.choice([0.95, 0.998]))
        bounds = []
        for q, sf in [((1 - c) / 2, False), ((1 - c) / 2, True)]:
            if sf:
                r = stats.binom.isf(q, n, theta)
                alpha = (q - stats.binom.sf(r, n, theta)) / stats.binom.pmf(r, n, theta)
            else:
                r = stats.binom.ppf(q, n, theta)
                alpha = (stats.binom.cdf(r, n, theta) - q) / stats.binom.pmf(r, n, theta)
            bounds.append(float(np.clip((r - alpha) / n, 0, 1)))
        yield [theta, n, c], bounds


@reference("over_dispersion")
def over_dispersion(random):
    for _ in range(200):
        x, n = series(random)
        theta = x.sum() / n.sum()
        z = (x / n - theta) / np.sqrt(theta * (1 - theta) / n)
        low, high = np.quantile(z, [0.1, 0.9])
        chi = (z**2).sum()
        yield [x, n], [(z**2).mean(), chi, stats.chi2.sf(chi, len(z) - 1), (np.clip(z, low, high) ** 2).mean()]


@reference("beta_binomial_moments")
def beta_binomial_moments(random):
    for _ in range(200):
        x, n = series(random)
        p = x / n
        weight = p.mean() * (1 - p.mean()) / p.var(ddof=1) - 1
        if weight > 0:
            yield [x, n], [p.mean() * weight, (1 - p.mean()) * weight]


@reference("beta_binomial_likelihood")
def beta_binomial_likelihood(random):
    done = 0
    while done < 200:
        k = int(random.integers(5, 120))
        a, b = 10 ** random.uniform(-0.5, 1), 10 ** random.uniform(0, 2)
        n = random.integers(2, int(10 ** random.uniform(1, 3)) + 2, k)
        x = random.binomial(n, random.beta(a, b, k))

        def slopes(log_shapes):
            a, b = np.exp(log_shapes)
            common = special.digamma(a + b) - special.digamma(a + b + n)
            return [
                a * (special.digamma(a + x) - special.digamma(a) + common).sum(),
                b * (special.digamma(b + n - x) - special.digamma(b) + common).sum(),
            ]

        found = optimize.root(slopes, np.log([a, b]), tol=1e-13, options={"xtol": 1e-13})
        if not found.success or found.x.max() > np.log(3e3) or found.x.min() < np.log(1e-2):
            # No top, or one so far out that the slopes are all rounding.
            continue
        a, b = np.exp(found.x)
        top = (special.betaln(a + x, b + n - x) - special.betaln(a, b)).sum()
        done += 1
        yield [x, n], [a, b, top]


@reference("posterior")
def posterior(random):
    for _ in range(200):
        a, b = 10 ** random.uniform(-1, 2), 10 ** random.uniform(0, 3)
        n = int(10 ** random.uniform(0, 3))
        x, target, c = int(random.binomial(n, random.beta(a, b))), random.uniform(0.005, 0.3), level(random)
        found = stats.beta(a + x, b + n - x)
        if found.sf(target) > 1e-250:
            yield [a, b, x, n, target, c], [
                found.mean(),
                found.std(),
                found.ppf((1 - c) / 2),
                found.isf((1 - c) / 2),
                found.sf(target),
            ]


@reference("probability_as_high")
def probability_as_high(random):
    for _ in range(200):
        n, target = int(10 ** random.uniform(0, 3)), random.uniform(0.005, 0.5)
        x = int(random.binomial(n, min(1.0, target * random.uniform(0.3, 2))))
        yield [x, n, target], [stats.binomtest(x, n, target, alternative="greater").pvalue]
