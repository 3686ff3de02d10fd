"""The plain fuzzy matcher as a peer, small enough for the test script: token-set ratio of rapidfuzz, tuned on the tuning part.

    python token_set.py tuning.jsonl test.jsonl

Prints one JSON object: for each share of wrong words its F1 for "said / not heard" on the test part.
"""

import json
import sys

from peers import LEVELS, best_thresholds, decide, f1, pairs_of, read, token_set

tuning, test = read(sys.argv[1]), read(sys.argv[2])
for rows in (tuning, test):
    token_set(rows)
decide(test, "token set", best_thresholds(tuning, "token set"))
scores = {}
for level in LEVELS:
    rows = [row for row in test if row["share"] == level]
    scores[str(level)] = f1(pairs_of(rows, lambda item: item["token set said"]))[2]
print(json.dumps(scores))
