"""Fits the calibration of the transcript reader on the labelled set.

    cargo run --release -p wardwright-teachback --example labelled_set -- tuning tuning.jsonl
    python tests/hearing/fit.py tuning.jsonl test.jsonl test-2.jsonl test-3.jsonl

Prints the weights for crates/teachback/src/hear/calibration.rs: that an item was said at all from the tuning part alone, that the
mark is right from all that are named. And, by leaving out one transcript at a time, how well the
probabilities hold. Logistic regression with a small ridge (scikit-learn); items that were led are left out, since their
words are the trainer's.
"""

import json
import sys

import numpy as np
from sklearn.linear_model import LogisticRegression
from sklearn.model_selection import GroupKFold

MARK_OF_LABEL = {
    "unprompted": "Said", "prompted": "AfterPrompt", "led": "Led", "partial": "InPart",
    "wrong": "OtherQuantity", "opposite": "Opposite", "missed": "NotHeard",
}


def main():
    rows = [json.loads(line) for line in open(sys.argv[1], encoding="utf-8")]
    for kind in ("KeyPoint", "Reason"):
        signs, said, groups, weights = [], [], [], []
        for row in rows:
            # Each level counts the same, however often it was repeated.
            weight = 1.0 if row["share"] == 0 else 0.25
            for item in row["items"]:
                if item["kind"] == kind and item["label"] != "led":
                    signs.append(item["signs"])
                    said.append(item["label"] != "missed")
                    groups.append(row["name"])
                    weights.append(weight)
        signs, said, weights = np.array(signs), np.array(said), np.array(weights)
        model = LogisticRegression(C=3.0, max_iter=5000)
        probability = np.zeros(len(said))
        for train, held_out in GroupKFold(n_splits=10).split(signs, said, groups):
            model.fit(signs[train], said[train], sample_weight=weights[train])
            probability[held_out] = model.predict_proba(signs[held_out])[:, 1]
        guess = probability >= 0.5
        hit, extra, lost = (
            float((weights * (guess & said)).sum()), float((weights * (guess & ~said)).sum()), float((weights * (~guess & said)).sum()))
        model.fit(signs, said, sample_weight=weights)
        numbers = ", ".join(f"{number:.4f}" for number in [*model.coef_[0], model.intercept_[0]])
        print(f"{kind}: [{numbers}]")
        print(f"  left out in turn: F1 {2 * hit / (2 * hit + extra + lost):.3f}, calibration error {ece(probability, said, weights):.3f}")
    rows += [json.loads(line) for path in sys.argv[2:] for line in open(path, encoding="utf-8")]
    told, right, weights = [], [], []
    for row in rows:
        for item in row["items"]:
            if item["kind"] == "Step" or item["heard_as"] != "Said":
                continue
            said, signs = min(max(item["said_probability"], 1e-4), 1 - 1e-4), item["signs"]
            no_number = item["expected_quantity"] is not None and item["heard_quantity"] is None
            told.append([said, np.log(said / (1 - said)), signs[1], signs[8], signs[10], float(item["kind"] == "Reason"), float(no_number)])
            right.append(item["label"] == "unprompted")
            weights.append(1.0 if row["share"] == 0 else 0.25)
    model = LogisticRegression(C=1.0, max_iter=5000).fit(told, right, sample_weight=weights)
    numbers = ", ".join(f"{number:.4f}" for number in [*model.coef_[0], model.intercept_[0]])
    print(f"said is right: [{numbers}]")
    # How often each kind of mark is right where the item was said at all.
    right, total = {}, {}
    for row in rows:
        weight = 1.0 if row["share"] == 0 else 0.25
        for item in row["items"]:
            if item["kind"] != "Step" and item["heard_as"] != "NotHeard" and item["label"] != "missed":
                mark = item["heard_as"]
                total[mark] = total.get(mark, 0) + weight
                right[mark] = right.get(mark, 0) + weight * (MARK_OF_LABEL[item["label"]] == mark)
    for mark, of in total.items():
        print(f"{mark}: {right[mark] / of:.3f} of {of:.0f}")


def ece(probability, truth, weights, n_bins=10):
    """Expected calibration error over equal bins (Naeini and others, 2015)."""
    bins = np.minimum((probability * n_bins).astype(int), n_bins - 1)
    error = 0.0
    for number in range(n_bins):
        inside = bins == number
        if inside.any():
            share = np.average(truth[inside], weights=weights[inside])
            mean = np.average(probability[inside], weights=weights[inside])
            error += weights[inside].sum() * abs(share - mean)
    return error / weights.sum()


if __name__ == "__main__":
    main()
