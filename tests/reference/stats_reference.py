"""Reference figures for the statistics room, computed by general-purpose libraries.

    python stats_reference.py OUT.jsonl [seed]

Needs numpy, scipy, statsmodels, krippendorff and mpmath. Writes one JSON object per line: first the versions, then
`{"function": ..., "args": [...], "want": [...]}` for at least 200 inputs per function, random and extreme.
`null` in `want` stands for "no bound" or "no value". Every file `stats_reference*.py` beside this one is
loaded; each registers its functions with `reference`.
"""

import importlib
import json
import math
import pathlib
import sys

import numpy as np

REGISTRY = []
HERE = pathlib.Path(__file__).resolve().parent


def reference(name):
    """Registers a generator of (args, want) pairs, called with a numpy random generator of its own."""

    def keep(generator):
        REGISTRY.append((name, generator))
        return generator

    return keep


def plain(value):
    """numpy values, tuples and infinities as JSON can hold them."""
    if isinstance(value, (list, tuple, np.ndarray)):
        return [plain(item) for item in value]
    if isinstance(value, (bool, np.bool_)):
        return bool(value)
    if isinstance(value, (int, np.integer)):
        return int(value)
    if isinstance(value, (float, np.floating)):
        value = float(value)
        return value if math.isfinite(value) else None
    return value


def versions():
    import krippendorff  # noqa: F401  (its version is read from its metadata)
    import scipy
    import statsmodels
    from importlib.metadata import version

    return {
        "python": sys.version.split()[0],
        "numpy": np.__version__,
        "scipy": scipy.__version__,
        "statsmodels": statsmodels.__version__,
        "krippendorff": version("krippendorff"),
        "mpmath": version("mpmath"),
    }


def main(out, seed):
    # Loaded under its own name as well, so that the parts register in one list whoever imports whom.
    sys.modules.setdefault("stats_reference", sys.modules[__name__])
    sys.path.insert(0, str(HERE))
    for part in sorted(HERE.glob("stats_reference_*.py")):
        importlib.import_module(part.stem)
    found = versions()
    print("reference versions:", found, file=sys.stderr)
    with open(out, "w", encoding="utf-8") as lines:
        print(json.dumps({"versions": found, "seed": seed}), file=lines)
        for name, generator in REGISTRY:
            # A generator of its own per function: adding a function does not change the inputs of another.
            random = np.random.default_rng([seed, *name.encode()])
            count = 0
            for args, want in generator(random):
                print(json.dumps({"function": name, "args": plain(args), "want": plain(want)}), file=lines)
                count += 1
            print(f"{name}: {count}", file=sys.stderr)


if __name__ == "__main__":
    if len(sys.argv) < 2:
        sys.exit(__doc__)
    main(sys.argv[1], int(sys.argv[2]) if len(sys.argv) > 2 else 20240611)
