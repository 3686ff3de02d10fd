"""Sequential tests, agreement, regression, arrivals: statsmodels, scipy and krippendorff, or another way in numpy.

Where a general-purpose library has the figure it is used. Elsewhere the way differs from the room's own: run lengths by
solving or powering the whole transition matrix, normal charts by Clenshaw-Curtis quadrature of the plain equation,
standard errors by complex-step derivatives of the estimate, avoided events likewise.
"""

import functools
import math
import warnings

import krippendorff
import numpy as np
import statsmodels.api as sm
from scipy import optimize, special, stats
from scipy.signal import lfilter
from statsmodels.stats import inter_rater
from statsmodels.stats.stattools import durbin_watson

from stats_reference import reference

warnings.filterwarnings("ignore")

N = 220


# Two-step charts. Weights are whole numbers times one factor, and limits lie half a step off, so no chart hangs on a tie.


def lattice_case(random):
    up, down = int(random.integers(1, 40)), int(random.integers(1, 12))
    limit = int(random.integers(1, 90))
    start = int(random.integers(0, limit)) if random.random() < 0.4 else 0
    rate = float(random.choice([random.uniform(0.01, 0.99), 10 ** random.uniform(-2.5, -0.5)]))
    factor = float(random.choice([1.0, random.uniform(0.001, 3.0)]))
    return up, down, limit, start, rate, factor


def lattice_matrix(up, down, limit, rate):
    """Moves between the whole sums below the limit; what is missing from a row has signalled."""
    moves = np.zeros((limit, limit))
    for place in range(limit):
        moves[place, max(0, place - down)] += 1 - rate
        if place + up < limit:
            moves[place, place + up] += rate
    return moves


def lattice_args(up, down, limit, start, rate, factor):
    return [up * factor, down * factor, (limit - 0.5) * factor, start * factor, rate]


@reference("two_step_mean")
def two_step_mean(random):
    count = 0
    while count < N:
        case = up, down, limit, start, rate, factor = lattice_case(random)
        if start > limit - 1 or (limit == 1 and start > 0):
            continue
        moves = lattice_matrix(up, down, limit, rate)
        mean = np.linalg.solve(np.eye(limit) - moves, np.ones(limit))
        if not 0 < mean[start] < 1e6:
            continue
        # Second moment: one step later both carry on, so E[N²] = 2 E[N] − 1 + moves·E[N²].
        square = np.linalg.solve(np.eye(limit) - moves, 2 * mean - 1)
        if square[start] - mean[start] ** 2 < 1e-6 * square[start]:
            continue
        count += 1
        yield lattice_args(*case), [mean[start], math.sqrt(square[start] - mean[start] ** 2)]


@reference("two_step_distribution")
def two_step_distribution(random):
    count = 0
    while count < N:
        case = up, down, limit, start, rate, factor = lattice_case(random)
        if limit == 1 and start > 0:
            continue
        moves = lattice_matrix(up, down, limit, rate)
        mean = np.linalg.solve(np.eye(limit) - moves, np.ones(limit))[start]
        if not 1 < mean < 1e5:
            continue
        # Powers by squaring: a hundred thousand observations in 17 products.
        times = sorted({1, 2, 5, 17, 60, int(mean / 2) + 1, int(mean) + 1, int(3 * mean) + 1})
        no_signal = [float(np.linalg.matrix_power(moves, n)[start].sum()) for n in times]
        kept = [(n, s) for n, s in zip(times, no_signal) if s > 1e-10]
        count += 1
        yield lattice_args(*case) + [[n for n, _ in kept]], [s for _, s in kept]


@reference("log_likelihood_mean")
def log_likelihood_mean(random):
    """Weights without a common measure: one row per number of events, each a filter along the non-events."""
    for index in range(N):
        rate = float(random.choice([random.uniform(0.01, 0.3), 0.01, 0.02, 0.03, 0.05]))
        ratio = float(random.choice([2.0, 1.5, 3.0, random.uniform(1.3, 6.0)]))
        limit = float(random.uniform(0.5, 4.5))
        true_rate = rate if index % 2 else min(0.95, rate * ratio / (1 - rate + rate * ratio))
        yield [rate, ratio, limit, true_rate], [log_likelihood_run(rate, ratio, limit, true_rate)]


def log_likelihood_run(rate, ratio, limit, true_rate):
    event = math.log(ratio) - math.log(1 - rate + rate * ratio)
    fall = math.log(1 - rate + rate * ratio)
    # A cycle that leaves zero starts with an event. Row i: i events so far, place i·event − j·fall.
    most = int((limit + 2 * event) / fall) + 3
    arriving = np.zeros(most)
    length, signal = 1.0, 0.0
    if event >= limit:
        return 1.0 / true_rate
    arriving[0] = true_rate
    n_events, shift = 1, 0
    while True:
        # j runs from `shift`; only 0 < place < limit is inside.
        j = shift + np.arange(most)
        place = n_events * event - j * fall
        visits = lfilter([1.0], [1.0, -(1 - true_rate)], arriving)
        inside = (place > 0) & (place < limit)
        visits = np.where(inside, visits, 0.0)
        length += visits.sum()
        onwards = visits * true_rate
        over = place + event >= limit
        signal += onwards[over].sum()
        onwards = np.where(over, 0.0, onwards)
        if onwards.sum() < 1e-19 * max(signal, 1e-30):
            return length / signal
        # The next row starts at its first place below the limit.
        next_shift = max(shift, int(math.floor(((n_events + 1) * event - limit) / fall)))
        moved = next_shift - shift
        arriving = np.zeros(most)
        arriving[: most - moved] = onwards[moved:]
        n_events, shift = n_events + 1, next_shift


@reference("sprt")
def sprt(random):
    """Absorption of the whole chain, by linear solve, with weights and boundaries on a lattice half a step off."""
    for _ in range(N):
        up, down = int(random.integers(1, 30)), int(random.integers(1, 12))
        low, high = int(random.integers(1, 60)), int(random.integers(1, 60))
        rate, factor = random.uniform(0.01, 0.99), random.uniform(0.01, 2.0)
        width = low + high - 1
        moves, above, below = np.zeros((width, width)), np.zeros(width), np.zeros(width)
        for place in range(width):
            if place + up < width:
                moves[place, place + up] += rate
            else:
                above[place] = rate
            if place - down >= 0:
                moves[place, place - down] += 1 - rate
            else:
                below[place] = 1 - rate
        inverse = np.linalg.inv(np.eye(width) - moves)
        start = low - 1
        want = [(inverse @ above)[start], (inverse @ below)[start], inverse[start].sum()]
        if min(want[:2]) < 1e-8:
            continue
        yield [up * factor, down * factor, (high - 0.5) * factor, (low - 0.5) * factor, rate], want
    # Boundaries wide apart are left out above when one side is hardly ever reached; these are not.
    for numerator in range(1, 101):
        rate = numerator / 101
        q, total, start = 1 - rate, 9, 4
        ratio = q / rate
        above = (ratio**start - 1) / (ratio**total - 1)
        below = (ratio**total - ratio**start) / (ratio**total - 1)
        mean = start / (q - rate) - total / (q - rate) * (1 - ratio**start) / (1 - ratio**total)
        yield [1.0, 1.0, total - start, start, rate], [above, below, mean]


# Normal charts: the plain equation L = 1 + L(0)·Φ + ∫ L φ on Clenshaw-Curtis nodes, and its powers.


@functools.lru_cache(maxsize=None)
def clenshaw_curtis(n):
    theta = np.pi * np.arange(n + 1) / n
    moments = np.zeros(n + 1)
    moments[::2] = 2 / (1 - np.arange(0, n + 1, 2) ** 2)
    basis = np.cos(np.outer(theta, np.arange(n + 1)))
    return np.cos(theta), np.linalg.solve(basis.T, moments)


def normal_chain(k, h, start, shift):
    """Moves between zero, the head start and the nodes, in that order."""
    nodes, weights = clenshaw_curtis(int(40 + 16 * h))
    places = np.concatenate([[0.0, start], (nodes + 1) * h / 2])
    weights = weights * h / 2
    moves = np.zeros((len(places), len(places)))
    moves[:, 0] = stats.norm.cdf(k - shift - places)
    moves[:, 2:] = weights * stats.norm.pdf(places[2:][None, :] + k - shift - places[:, None])
    return moves


def normal_case(random):
    k, h = random.uniform(0, 1.5), random.uniform(0.2, 7.0)
    start = random.uniform(0, h / 2) if random.random() < 0.4 else 0.0
    shift = random.choice([0.0, random.uniform(-0.5, 3.0)])
    return float(k), float(h), float(start), float(shift)


@reference("normal_mean")
def normal_mean(random):
    count = 0
    while count < N:
        k, h, start, shift = normal_case(random)
        moves = normal_chain(k, h, start, shift)
        eye, one = np.eye(len(moves)), np.ones(len(moves))
        mean = np.linalg.solve(eye - moves, one)
        # The plain solve loses digits in proportion to the mean.
        if mean[1] > 1e5:
            continue
        square = np.linalg.solve(eye - moves, 2 * mean - 1)
        sd = math.sqrt(max(0.0, square[1] - mean[1] ** 2))
        if sd < 1e-3:
            continue
        count += 1
        yield [k, h, start, shift], [mean[1], sd]


@reference("normal_distribution")
def normal_distribution(random):
    count = 0
    while count < N:
        k, h, start, shift = normal_case(random)
        moves = normal_chain(k, h, start, shift)
        mean = np.linalg.solve(np.eye(len(moves)) - moves, np.ones(len(moves)))[1]
        if mean > 2e4:
            continue
        times = sorted({1, 2, 5, 20, int(mean) + 1, int(3 * mean) + 1})
        no_signal = [float(np.linalg.matrix_power(moves, n)[1].sum()) for n in times]
        kept = [(n, s) for n, s in zip(times, no_signal) if s > 1e-9]
        count += 1
        yield [k, h, start, shift, [n for n, _ in kept]], [s for _, s in kept]


# Agreement.


def square_table(random, k):
    # Watchers who mostly agree, seldom agree, or agree on one frequent category.
    shape = random.choice([0.2, 1.0, 5.0])
    chances = random.dirichlet(np.full(k * k, shape)).reshape(k, k)
    chances = chances + np.diag(random.dirichlet(np.full(k, shape))) * random.choice([0, 1, 5, 30])
    return random.multinomial(int(10 ** random.uniform(0.7, 4)), (chances / chances.sum()).ravel()).reshape(k, k)


def complex_step(function, weights):
    """Derivative of `function` in each weight, without subtraction: its imaginary part after an imaginary step."""
    derivative = np.empty(len(weights))
    for index in range(len(weights)):
        moved = weights.astype(complex)
        moved[index] += 1e-40j
        derivative[index] = function(moved).imag / 1e-40
    return derivative


@reference("cohen")
def cohen(random):
    count = 0
    while count < N:
        k = int(random.integers(2, 6))
        table = square_table(random, k)
        n = table.sum()
        scale = ["identity", "linear", "quadratic"][count % 3]
        if (np.outer(table.sum(0), table.sum(1)) - np.diag(np.diag(np.outer(table.sum(0), table.sum(1))))).sum() == 0:
            continue
        found = inter_rater.cohens_kappa(table, wt=None if scale == "identity" else scale)
        # An error of nothing is a question of rounding only; the tables of ends look at it.
        if not (found.std_kappa > 1e-4 and found.std_kappa0 > 1e-4 and n > 2) or abs(found.kappa) < 1e-3:
            continue
        count += 1
        yield [k, table.ravel(), scale], [found.kappa, found.std_kappa, found.std_kappa0]


@reference("weighted_kappa_given")
def weighted_kappa_given(random):
    """Any weights: kappa from its definition and its error by complex steps in the cells."""
    count = 0
    while count < N:
        k = int(random.integers(2, 6))
        table = square_table(random, k)
        n = table.sum()
        weights = random.uniform(0, 1, (k, k))
        np.fill_diagonal(weights, 1)

        def kappa(cells):
            share = cells.reshape(k, k) / cells.sum()
            expected = (weights * np.outer(share.sum(1), share.sum(0))).sum()
            return ((weights * share).sum() - expected) / (1 - expected)

        cells = table.ravel().astype(float)
        if (table.sum(0) == n).any() or (table.sum(1) == n).any() or abs(kappa(cells)) < 1e-3:
            continue
        slope = complex_step(kappa, cells / n)
        error = math.sqrt((cells / n * slope**2).sum() / n)
        if error < 1e-4:
            continue
        count += 1
        yield [k, table.ravel(), weights.ravel()], [kappa(cells), error]


def rating_counts(random, same_number):
    k, n = int(random.integers(2, 6)), int(random.integers(3, 60))
    raters = int(random.integers(2, 9))
    rows = []
    for _ in range(n):
        chances = random.dirichlet(np.full(k, random.choice([0.1, 0.5, 2.0])))
        rows.append(random.multinomial(raters if same_number else int(random.integers(2, 9)), chances))
    return np.array(rows)


def per_case(rows):
    """Share of agreeing pairs and of each category, by counting pairs of watchers one by one."""
    agreeing = []
    for row in rows:
        ratings = np.repeat(np.arange(len(row)), row)
        same = [a == b for i, a in enumerate(ratings) for b in ratings[i + 1 :]]
        agreeing.append(np.mean(same))
    return np.array(agreeing), rows / rows.sum(1, keepdims=True)


def with_error(rows, chance):
    """(po − pe)/(1 − pe) as a function of case weights; error from its slopes, with n − 1."""
    agreeing, shares = per_case(rows)

    def estimate(weights):
        weights = weights / weights.sum()
        expected = chance(weights @ shares)
        return (weights @ agreeing - expected) / (1 - expected)

    n = len(rows)
    uniform = np.full(n, 1 / n)
    slope = complex_step(estimate, uniform)
    return float(estimate(uniform)), math.sqrt((slope**2).sum() / n / (n - 1))


@reference("fleiss")
def fleiss(random):
    count = 0
    while count < N:
        rows = rating_counts(random, same_number=count % 2 == 0)
        if (rows.sum(0) > 0).sum() < 2:
            continue
        value, error = with_error(rows, lambda share: (share**2).sum())
        if count % 2 == 0:
            value = inter_rater.fleiss_kappa(rows)
        if abs(value) < 1e-3 or error < 1e-4:
            continue
        count += 1
        yield [rows.shape[1], rows], [value, error]


@reference("ac1")
def ac1(random):
    count = 0
    while count < N:
        rows = rating_counts(random, same_number=count % 2 == 0)
        k = rows.shape[1]
        value, error = with_error(rows, lambda share: (share * (1 - share)).sum() / (k - 1))
        if abs(value) < 1e-3 or error < 1e-4:
            continue
        count += 1
        yield [k, rows], [value, error]


def reliability(random, metric):
    watchers, cases = int(random.integers(2, 6)), int(random.integers(4, 50))
    truth = random.integers(0, 6, cases).astype(float)
    noise = random.choice([0, 0, 0, -1, 1, 2], (watchers, cases))
    data = np.clip(truth + noise, 0, 7)
    if metric in ("interval", "ratio") and random.random() < 0.5:
        data = np.round(data * random.uniform(0.1, 30), 3)
    data[random.uniform(size=data.shape) < random.choice([0, 0.1, 0.5])] = np.nan
    return data


@reference("alpha")
def alpha(random):
    metrics = ["nominal", "ordinal", "interval", "ratio"]
    count = 0
    while count < 2 * N:
        metric = metrics[count % 4]
        data = reliability(random, metric)
        rated_twice = data[:, (~np.isnan(data)).sum(0) > 1]
        if len(np.unique(rated_twice[~np.isnan(rated_twice)])) < 2:
            continue
        value = krippendorff.alpha(reliability_data=data, level_of_measurement=metric)
        if abs(value) < 1e-3:
            continue
        count += 1
        yield [metric, [[None if np.isnan(r) else r for r in row] for row in data]], [value]


@reference("alpha_spread")
def alpha_spread(random):
    """A second bootstrap over cases; compared within the scatter of resampling, not digit by digit."""
    count = 0
    while count < 200:
        data = reliability(random, "nominal")
        data = data[:, (~np.isnan(data)).sum(0) > 1]
        if data.shape[1] < 12 or len(np.unique(data[~np.isnan(data)])) < 2:
            continue
        values = np.arange(8)
        table = np.stack([(data == value).sum(0) for value in values], 1).astype(float)
        draws = table[random.integers(0, len(table), (2000, len(table)))]
        m = draws.sum(2)
        total = draws.sum(1)
        n = total.sum(1)
        seen = ((m**2 - (draws**2).sum(2)) / (m - 1)).sum(1) / n
        chance = (n**2 - (total**2).sum(1)) / (n * (n - 1))
        resampled = 1 - seen[chance > 0] / chance[chance > 0]
        if resampled.std() < 0.01:
            continue
        count += 1
        args = ["nominal", [[None if np.isnan(r) else r for r in row] for row in data]]
        yield args, [resampled.std(ddof=1)]


# Segmented regression.


def segmented_case(random):
    n = int(random.choice([12, 16, 24, 48, 60, 120, 240]))
    before = int(random.integers(4, n - 4))
    coding = ["none", "zero", "one"][int(random.integers(0, 3))]
    pairs = int(random.integers(0, 3)) if n >= 24 else 0
    time = np.arange(1, n + 1, dtype=float)
    after = (time > before).astype(float)
    columns = [np.ones(n), time, after]
    if coding == "zero":
        columns.append(np.where(after > 0, time - before - 1, 0))
    if coding == "one":
        columns.append(np.where(after > 0, time - before, 0))
    for pair in range(1, pairs + 1):
        columns += [np.sin(2 * np.pi * pair * time / 12), np.cos(2 * np.pi * pair * time / 12)]
    actual = np.column_stack(columns)
    unchanged = actual.copy()
    unchanged[:, 2 : 3 + (coding != "none")] = 0
    return n, before, coding, pairs, actual, unchanged


def linear_part(random, actual, level):
    n = len(actual)
    slope = random.normal(0, 0.5) / n
    return level + slope * actual[:, 1] + random.normal(-0.3, 0.4) * actual[:, 2]


def figures(fit, covariance, dispersion, deviance, residuals, before, actual, unchanged, size, mean):
    """Estimates in units of their own errors are shifted by 10, so that one near 0 is compared in absolute terms."""
    beta = np.asarray(fit.params)
    error = np.sqrt(np.diag(covariance))

    def avoided(b):
        part = slice(before, None)
        return (size[part] * (mean(unchanged[part] @ b) - mean(actual[part] @ b))).sum()

    slope = complex_step(avoided, beta)
    spread = math.sqrt(slope @ covariance @ slope)
    return [
        list(beta / error + 10),
        list(error),
        dispersion,
        deviance,
        durbin_watson(residuals),
        avoided(beta) / spread + 10,
        spread,
    ]


def glm_case(random, family):
    n, before, coding, pairs, actual, unchanged = segmented_case(random)
    errors = ["model", "dispersion", "newey-west"][int(random.integers(0, 3))]
    lag = int(random.integers(0, min(7, n // 3 + 1)))
    if family == "poisson":
        exposure = np.round(10 ** random.uniform(1, 4) * random.uniform(0.5, 1.5, n), 3)
        mean = exposure * np.exp(linear_part(random, actual, random.uniform(-3, 0)))
        y = random.poisson(mean * random.gamma(20, 1 / 20, n))
        model = sm.GLM(y, actual, family=sm.families.Poisson(), offset=np.log(exposure))
        response, size = [[int(v) for v in y], list(exposure)], exposure
        transform = np.exp
    else:
        trials = random.integers(20, int(10 ** random.uniform(1.5, 4)) + 21, n)
        chance = special.expit(linear_part(random, actual, random.uniform(-3.5, 0)))
        y = random.binomial(trials, np.clip(chance * random.gamma(30, 1 / 30, n), 0, 1))
        model = sm.GLM(np.column_stack([y, trials - y]), actual, family=sm.families.Binomial())
        response, size = [[int(v) for v in y], [int(v) for v in trials]], trials.astype(float)

        def transform(eta):
            return 1 / (1 + np.exp(-eta))

    # No finite answer, or nearly none, where a part of the series has no events or nothing else.
    if y[:before].sum() < 4 or y[before:].sum() < 4:
        return None
    if family == "binomial" and ((trials - y)[:before].sum() < 4 or (trials - y)[before:].sum() < 4):
        return None
    # The answer is polished until it stands still: the default tolerance of the deviance leaves 1e-8 in estimates.
    fit = model.fit(maxiter=200, tol=1e-14, tol_criterion="params")
    p = actual.shape[1]
    bread = np.linalg.inv((actual * weight(fit, size)[:, None]).T @ actual)
    dispersion = fit.pearson_chi2 / (n - p)
    if errors == "model":
        covariance = bread
    elif errors == "dispersion":
        covariance = bread * max(1.0, dispersion)
    else:
        robust = model.fit(
            maxiter=200,
            tol=1e-14,
            tol_criterion="params",
            cov_type="HAC",
            cov_kwds={"maxlags": lag, "use_correction": True},
        )
        covariance = np.asarray(robust.cov_params())
    if np.sqrt(np.diag(bread)).max() > 5:
        return None
    want = figures(
        fit, covariance, dispersion, fit.deviance, fit.resid_pearson, before, actual, unchanged, size, transform
    )
    return [before, coding, pairs, errors, lag, *response], want


def weight(fit, size):
    """Working weights of the canonical link: the variance of the figure."""
    mean = fit.fittedvalues
    return mean if isinstance(fit.model.family, sm.families.Poisson) else size * mean * (1 - mean)


@reference("segmented_poisson")
def segmented_poisson(random):
    count = 0
    while count < N:
        case = glm_case(random, "poisson")
        if case is not None:
            count += 1
            yield case


@reference("segmented_logistic")
def segmented_logistic(random):
    count = 0
    while count < N:
        case = glm_case(random, "binomial")
        if case is not None:
            count += 1
            yield case


@reference("segmented_least_squares")
def segmented_least_squares(random):
    for _ in range(N):
        n, before, coding, pairs, actual, unchanged = segmented_case(random)
        errors = ["model", "newey-west"][int(random.integers(0, 2))]
        lag = int(random.integers(0, min(7, n // 3 + 1)))
        scale = 10 ** random.uniform(-2, 3)
        noise = np.zeros(n)
        for t in range(n):
            noise[t] = random.normal() + (0.5 * noise[t - 1] if t else 0)
        y = scale * (linear_part(random, actual, random.uniform(-3, 8)) + 0.3 * noise)
        fit = sm.OLS(y, actual).fit()
        covariance = fit.cov_params()
        if errors == "newey-west":
            covariance = fit.get_robustcov_results("HAC", maxlags=lag, use_correction=True).cov_params()
        want = figures(
            fit, covariance, fit.mse_resid, fit.ssr, fit.resid, before, actual, unchanged, np.ones(n), lambda eta: eta
        )
        yield [before, coding, pairs, errors, lag, list(y)], want


# Arrivals.


@reference("rate_spread")
def rate_spread(random):
    """The two scores solved together; `null` where the likelihood has no top below an endless shape."""
    count = 0
    while count < N:
        n = int(random.integers(3, 40))
        exposure = np.round(10 ** random.uniform(0, 2.5, n), 3)
        shape = 10 ** random.uniform(-0.5, 1.5)
        rate = random.gamma(shape, 10 ** random.uniform(-1.5, 1) / shape, n)
        x = random.poisson(rate * exposure)
        if x.sum() < 3:
            continue

        def score(point):
            a, b = np.exp(point)
            da = (special.digamma(a + x) - special.digamma(a) + np.log(b / (b + exposure))).sum()
            db = (a / b - (a + x) / (b + exposure)).sum()
            return [da * a, db * b]

        def loss(point):
            a, b = np.exp(point)
            return -(
                special.gammaln(a + x) - special.gammaln(a) + a * np.log(b / (b + exposure)) - x * np.log(b + exposure)
            ).sum()

        starts = [np.log([s, s * exposure.sum() / x.sum()]) for s in (0.1, 1.0, 10.0, 100.0)]
        found = min((optimize.minimize(loss, s, method="Nelder-Mead") for s in starts), key=lambda f: f.fun)
        # One rate for all may be likelier still than the best spread.
        crude = x.sum() / exposure.sum()
        if x.sum() * math.log(crude) - x.sum() > -found.fun:
            count += 1
            yield [[int(v) for v in x], exposure], [None, None]
            continue
        # A top far out is flat: which shape it has is then beyond double precision, here and there.
        if np.exp(found.x[0]) > 500:
            continue
        top = optimize.root(score, found.x, tol=1e-14)
        if not top.success and np.abs(score(top.x)).max() > 1e-9:
            continue
        count += 1
        yield [[int(v) for v in x], exposure], list(np.exp(top.x))


def gamma_rate(random):
    return float(10 ** random.uniform(-1, 3)), float(10 ** random.uniform(-1, 3))


@reference("chance_of_at_least")
def chance_of_at_least(random):
    for _ in range(N):
        a, b = gamma_rate(random)
        t = float(b * 10 ** random.uniform(-3, 1))
        n = int(max(1, random.poisson(a * t / b) + random.integers(-2, 6)))
        want = stats.nbinom.sf(n - 1, a, b / (b + t))
        if want > 1e-250:
            yield [a, b, n, t], [want]


@reference("chance_of_at_least_across")
def chance_of_at_least_across(random):
    for _ in range(N):
        parts = [[*gamma_rate(random)] for _ in range(int(random.integers(1, 6)))]
        for part in parts:
            part.append(float(part[1] / part[0] * 10 ** random.uniform(-1, 1.7)))
        mean = sum(a * t / b for a, b, t in parts)
        n = int(max(1, random.poisson(mean)))
        chances = np.array([1.0])
        for a, b, t in parts:
            chances = np.convolve(chances, stats.nbinom.pmf(np.arange(n), a, b / (b + t)))[:n]
        want = 1 - chances.sum()
        if want > 1e-3:
            yield [parts, n], [want]


@reference("time_to_nth")
def time_to_nth(random):
    for _ in range(N):
        a, b = gamma_rate(random)
        n, q = int(random.integers(1, 60)), float(random.uniform(0.001, 0.999))
        yield [a, b, n, q], [b * stats.betaprime.ppf(q, n, a)]


@reference("forecast_count")
def forecast_count(random):
    for _ in range(N):
        a, b = gamma_rate(random)
        t = float(b / a * 10 ** random.uniform(-1, 3))
        level = float(random.choice([0.5, 0.8, 0.95, 0.99]))
        low, high = stats.nbinom.ppf([(1 - level) / 2, (1 + level) / 2], a, b / (b + t))
        yield [a, b, t, level], [a * t / b, low, high]


@reference("waiting_time")
def waiting_time(random):
    for _ in range(N):
        k = int(random.choice([1, 2, 5, 20, 100]))
        p = float(random.choice([random.uniform(0.01, 0.99), 10 ** random.uniform(-4, -1)]))
        n = int(k / p * random.uniform(0.3, 2.5)) + k
        q = float(random.choice([0.05, 0.5, 0.95, random.uniform(0.01, 0.99)]))
        law = stats.nbinom(k, p)
        within, beyond = law.cdf(n - k), law.sf(n - k)
        if min(within, beyond) < 1e-200:
            continue
        yield [k, p, n, q], [k + law.mean(), law.std(), within, beyond, k + law.ppf(q)]
