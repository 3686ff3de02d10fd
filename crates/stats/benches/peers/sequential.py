"""The peer of benches/sequential.rs: the same run lengths in numpy and scipy, timed in this process.

    python sequential.py INPUT.json

Reads the charts and prints one JSON object: versions, and per task the seconds (the best of several runs) and the
answers. "sparse solve" writes down every reachable sum and solves for the means, the way the method is usually
described; "filters" is the fastest way found in scipy, one filter per number of events.
"""

import json
import math
import sys
import time

import numpy as np
import scipy
from scipy import sparse
from scipy.signal import lfilter
from scipy.sparse.linalg import spsolve
from scipy.special import ndtr


def best_of(times, work):
    seconds, answer = [], None
    for _ in range(times):
        start = time.perf_counter()
        answer = work()
        seconds.append(time.perf_counter() - start)
    return min(seconds), answer


def sparse_solve(rate, ratio, limit, true_rate, kept=1e-15):
    """States by breadth first, as long as the chance to be there is above `kept`; then (I − P) mean = 1."""
    fall = math.log(1 - rate + rate * ratio)
    rise = math.log(ratio) - fall
    index, places, chances = {(0, 0): 0}, [(0, 0)], [1.0]
    rows, columns, values = [], [], []
    head = 0
    while head < len(places):
        ups, downs = places[head]
        chance = chances[head]
        for up, share in ((1, true_rate), (0, 1 - true_rate)):
            there = (ups + up, downs + 1 - up)
            place = there[0] * rise - there[1] * fall
            if place >= limit:
                continue
            if place <= 0:
                target = 0
            else:
                target = index.get(there)
                if target is None:
                    if chance * share < kept:
                        target = 0
                    else:
                        target = index[there] = len(places)
                        places.append(there)
                        chances.append(0.0)
                if target:
                    chances[target] += chance * share
            rows.append(head)
            columns.append(target)
            values.append(share)
        head += 1
    n = len(places)
    moves = sparse.csc_matrix((values, (rows, columns)), shape=(n, n))
    return spsolve(sparse.identity(n, format="csc") - moves, np.ones(n))[0]


def filters(rate, ratio, limit, true_rate):
    """Visits of one cycle, row by row of events; a row is a filter along the non-events."""
    fall = math.log(1 - rate + rate * ratio)
    rise = math.log(ratio) - fall
    most = int((limit + 2 * rise) / fall) + 3
    steps = np.arange(most)
    arriving = np.zeros(most)
    arriving[0] = true_rate
    length, signal, n_events, shift = 1.0, 0.0, 1, 0
    while True:
        place = n_events * rise - (shift + steps) * fall
        visits = lfilter([1.0], [1.0, true_rate - 1.0], arriving)
        visits[(place <= 0) | (place >= limit)] = 0.0
        length += visits.sum()
        onwards = visits * true_rate
        over = place + rise >= limit
        signal += onwards[over].sum()
        onwards[over] = 0.0
        if onwards.sum() < 1e-18 * max(signal, 1e-30):
            return length / signal
        next_shift = max(shift, int(math.floor(((n_events + 1) * rise - limit) / fall)))
        arriving = np.zeros(most)
        arriving[: most - (next_shift - shift)] = onwards[next_shift - shift :]
        n_events, shift = n_events + 1, next_shift


def lattice_moves(m, limit, rate):
    moves = np.zeros((limit, limit))
    steps = np.arange(limit)
    moves[steps, np.maximum(steps - 1, 0)] += 1 - rate
    inside = steps + m - 1 < limit
    moves[steps[inside], steps[inside] + m - 1] += rate
    return moves


def lattice_dense(m, limit, rate):
    return np.linalg.solve(np.eye(limit) - lattice_moves(m, limit, rate), np.ones(limit))[0]


def lattice_within(m, limit, rate, n):
    """Chance of a signal within n, by powers of the matrix."""
    return 1 - np.linalg.matrix_power(lattice_moves(m, limit, rate), n)[0].sum()


def normal_mean(k, h, shift):
    n = 16 + math.ceil(4 * h)
    nodes, weights = np.polynomial.legendre.leggauss(n)
    places, weights = (nodes + 1) * h / 2, weights * h / 2
    kernel = weights * np.exp(-0.5 * (places[None, :] + k - places[:, None] - shift) ** 2) / math.sqrt(2 * math.pi)
    system = np.eye(n + 1)
    system[1:, 1:] -= kernel
    system[1:, 0] -= ndtr(k - places - shift)
    system[0, 1:] -= weights * np.exp(-0.5 * (places + k - shift) ** 2) / math.sqrt(2 * math.pi)
    system[0, 0] -= ndtr(k - shift)
    return np.linalg.solve(system, np.ones(n + 1))[0]


def main(path):
    with open(path, encoding="utf-8") as lines:
        given = json.load(lines)
    charts, lattices, within, normals = given["charts"], given["lattices"], given["within"], given["normals"]
    tasks = {
        "log-likelihood, sparse solve": best_of(2, lambda: [sparse_solve(*chart) for chart in charts]),
        "log-likelihood, filters": best_of(5, lambda: [filters(*chart) for chart in charts]),
        "lattice, dense solve": best_of(5, lambda: [lattice_dense(*lattice) for lattice in lattices]),
        "chance within n, matrix powers": best_of(3, lambda: [lattice_within(*lattice) for lattice in within]),
        "normal, integral equation": best_of(10, lambda: [normal_mean(*chart) for chart in normals]),
    }
    print(
        json.dumps(
            {
                "versions": f"numpy {np.__version__}, scipy {scipy.__version__}",
                "tasks": {
                    name: {"seconds": seconds, "answer": np.asarray(answer, dtype=float).ravel().tolist()}
                    for name, (seconds, answer) in tasks.items()
                },
            }
        )
    )


if __name__ == "__main__":
    main(sys.argv[1])
