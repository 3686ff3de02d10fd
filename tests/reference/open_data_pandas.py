"""Totals of the open laboratory files, computed with pandas from the files and the published definitions alone.

    python open_data_pandas.py DATA_FOLDER OUT.json

Needs pandas and openpyxl. Reads the folders mimic-iii-demo and amr-example-isolates (docs/open-data.md says where they are
published) and writes one JSON object. A folder that is absent gives null. The names of commensals are taken from the
list's file; everything else is worked out here: what makes a set, who is in whose window, what matches, the interval.
"""

import json
import math
import pathlib
import sys
import tomllib

import pandas as pd

ROOT = pathlib.Path(__file__).resolve().parents[2]
LIST = tomllib.loads((ROOT / "crates/culture/data/common-commensals.toml").read_text(encoding="utf-8"))

COMMENSAL_GENERA = {name for entry in LIST["genus"] for name in entry["names"]}
LISTED_SPECIES = {(e["genus"], s) for e in LIST["species_only"] for s in e["species"]}
NEVER_SPECIES = {(e["genus"], s) for e in LIST["species_only"] for s in e["never"]}
SPLIT_GENERA = {e["genus"] for e in LIST["species_only"]}
RECLASSIFIED = {genus for e in LIST["reclassified"] for genus in e.get("new_genera", [])}

COMMENSAL, RECOGNISED, UNSETTLED = "commensal", "recognised", "unsettled"


def kind(genus, species):
    """What the list says of a genus and species; species None for a name that stops at the genus."""
    if genus in COMMENSAL_GENERA:
        return COMMENSAL
    if (genus, species) in LISTED_SPECIES:
        return COMMENSAL
    if (genus, species) in NEVER_SPECIES:
        return RECOGNISED
    if genus in SPLIT_GENERA or genus in RECLASSIFIED or genus is None:
        return UNSETTLED
    return RECOGNISED


# Every name that occurs in a blood culture of the MIMIC-III demo, read by a person: (kind, genus, species, group).
MIMIC_NAMES = {
    "STAPHYLOCOCCUS, COAGULASE NEGATIVE": (COMMENSAL, "Staphylococcus", None, "coagulase negative"),
    "CORYNEBACTERIUM STRIATUM": (COMMENSAL, "Corynebacterium", "striatum", None),
    "CORYNEBACTERIUM SPECIES (DIPHTHEROIDS)": (COMMENSAL, "Corynebacterium", None, None),
    "ESCHERICHIA COLI": (RECOGNISED, "Escherichia", "coli", None),
    "STREPTOCOCCUS PNEUMONIAE": (RECOGNISED, "Streptococcus", "pneumoniae", None),
    "PROTEUS MIRABILIS": (RECOGNISED, "Proteus", "mirabilis", None),
    "KLEBSIELLA PNEUMONIAE": (RECOGNISED, "Klebsiella", "pneumoniae", None),
    "STAPH AUREUS COAG +": (RECOGNISED, "Staphylococcus", "aureus", None),
    "ENTEROCOCCUS FAECALIS": (RECOGNISED, "Enterococcus", "faecalis", None),
    "ENTEROCOCCUS FAECIUM": (RECOGNISED, "Enterococcus", "faecium", None),
    "ENTEROCOCCUS SP.": (RECOGNISED, "Enterococcus", None, None),
    "BETA STREPTOCOCCUS GROUP B": (RECOGNISED, "Streptococcus", "agalactiae", None),
    "BACTEROIDES FRAGILIS GROUP": (RECOGNISED, "Bacteroides", "fragilis", None),
    "STREPTOCOCCUS SPECIES": (UNSETTLED, "Streptococcus", None, None),
    "GRAM POSITIVE COCCUS(COCCI)": (UNSETTLED, None, None, None),
    "ANAEROBIC GRAM POSITIVE ROD(S)": (UNSETTLED, None, None, None),
    "GRAM POSITIVE RODS": (UNSETTLED, None, None, None),
}


def same(one, other):
    """NHSN: a name that stops at genus or group matches a species of it; two species do not match."""
    if one[1] != other[1]:
        return False
    if one[2] and other[2]:
        return one[2] == other[2]
    named = {one[2], other[2]} - {None}
    group = one[3] or other[3]
    return not (group == "coagulase negative" and "aureus" in named)


def may_be_same(one, other):
    return one[1] is None or other[1] is None or same(one, other)


def verdicts(sets, partners):
    """The rule of one set in two or more; `partners` gives for each set the others of its window."""
    found = {}
    for key, organisms in sets.items():
        kinds = {o[0] for o in organisms}
        if not organisms:
            found[key] = "negative"
        elif RECOGNISED in kinds:
            found[key] = "true_positive"
        elif UNSETTLED in kinds:
            found[key] = "undetermined"
        else:
            others = [o for p in partners[key] for o in sets[p]]
            if any(same(mine, o) for mine in organisms for o in others if o[0] == COMMENSAL):
                found[key] = "true_positive"
            elif any(may_be_same(mine, o) for mine in organisms for o in others if o[0] == UNSETTLED):
                found[key] = "undetermined"
            elif partners[key]:
                found[key] = "contaminated"
            else:
                found[key] = "undetermined"
    return found


def wilson(events, trials, z=1.959963984540054):
    p = events / trials
    centre = p + z * z / (2 * trials)
    half = z * math.sqrt(p * (1 - p) / trials + z * z / (4 * trials * trials))
    return [(centre - half) / (1 + z * z / trials), (centre + half) / (1 + z * z / trials)]


def summary(found, interval=True):
    series = pd.Series(found)
    names = ["contaminated", "true_positive", "negative", "undetermined"]
    counts = {name: int((series == name).sum()) for name in names}
    counts["sets"] = len(series)
    if interval:
        counts["rate"] = counts["contaminated"] / len(series)
        counts["interval"] = wilson(counts["contaminated"], len(series))
    return counts


def series_by_hours(table, hours):
    """A series starts with a patient's first set and holds every set surely within so many hours of it.

    Rows without a time are on their day: the start of it where they begin a series, the end of it where they join one.
    """
    span = pd.Timedelta(hours=hours)
    partners = {}
    for _, rows in table.groupby("patient"):
        rows = rows.assign(last=rows.time.fillna(rows.day + pd.Timedelta(days=1) - pd.Timedelta(seconds=1)))
        rows = rows.assign(first=rows.time.fillna(rows.day)).sort_values("last", kind="stable")
        current, limit = [], None
        groups = []
        for row in rows.itertuples():
            if limit is None or row.last > limit:
                current, limit = [], row.first + span
                groups.append(current)
            current.append(row.Index)
        for group in groups:
            for key in group:
                partners[key] = [other for other in group if other != key]
    return partners


def same_or_next_day(table):
    partners = {}
    for _, rows in table.groupby("patient"):
        for row in rows.itertuples():
            near = (rows.day - row.day).abs() <= pd.Timedelta(days=1)
            partners[row.Index] = [key for key in rows.index[near] if key != row.Index]
    return partners


def mimic(folder):
    events = pd.read_csv(folder / "MICROBIOLOGYEVENTS.csv", dtype=str, keep_default_na=False)
    blood = events[events.SPEC_TYPE_DESC == "BLOOD CULTURE"].copy()
    blood["time"] = pd.to_datetime(blood.CHARTTIME.replace("", None))
    blood["day"] = pd.to_datetime(blood.CHARTDATE).dt.normalize()
    blood["when"] = blood.CHARTTIME.where(blood.CHARTTIME != "", blood.CHARTDATE.str[:10])
    grouped = blood.groupby(["SUBJECT_ID", "when"])
    table = grouped.agg(time=("time", "first"), day=("day", "first")).reset_index()
    table["day"] = table.time.dt.normalize().fillna(table.day)
    table = table.rename(columns={"SUBJECT_ID": "patient"}).set_index(["patient", "when"], drop=False)
    organisms = {key: [MIMIC_NAMES[name] for name in sorted(set(rows.ORG_NAME) - {""})] for key, rows in grouped}
    table.index = table.index.to_flat_index()
    table = table.drop(columns="when")
    return {
        "rows": len(events),
        "rows_kept": len(blood),
        "sets": len(table),
        "with_growth": sum(1 for found in organisms.values() if found),
        "rules": {
            "adult-24h": summary(verdicts(organisms, series_by_hours(table, 24))),
            "episode-48h": summary(verdicts(organisms, series_by_hours(table, 48))),
            "nhsn-match": summary(verdicts(organisms, same_or_next_day(table))),
        },
    }


def amr(folder):
    isolates = pd.read_csv(folder / "example_isolates.csv", dtype=str, keep_default_na=False)
    names = pd.read_csv(folder / "organism_names.csv", dtype=str, keep_default_na=False).set_index("mo")

    def organism(code):
        row = names.loc[code]
        genus, species = row.genus, row.species or None
        full = row.fullname
        if full.startswith("Coagulase-negative"):
            return (COMMENSAL, "Staphylococcus", None, "coagulase negative")
        if full.startswith("Streptococcus Group"):
            # Groups A, B, C and G are on no commensal list; only group F is.
            return (RECOGNISED, "Streptococcus", full, None)
        if full.startswith("(unknown"):
            return (UNSETTLED, None, None, None)
        if (genus, species) == ("Staphylococcus", "schleiferi"):
            # Only one of its subspecies is listed and the code does not say which.
            return (UNSETTLED, genus, species, None)
        return (kind(genus, species), genus, species, None)

    adults = isolates[pd.to_numeric(isolates.age) >= 18]
    grouped = adults.groupby(["patient", "date"])
    organisms = {key: [organism(code) for code in sorted(set(rows.mo))] for key, rows in grouped}
    table = pd.DataFrame(list(organisms), columns=["patient", "date"])
    table["day"] = pd.to_datetime(table.date)
    table["time"] = pd.NaT
    table.index = pd.Index(list(organisms), tupleize_cols=False)
    everyone = isolates.groupby(["patient", "date"]).ngroups
    return {
        "rows": len(isolates),
        "repeated_rows": int(isolates.duplicated().sum()),
        "sets": len(organisms),
        "excluded": everyone - len(organisms),
        "rules": {"adult-24h": summary(verdicts(organisms, series_by_hours(table, 24)), interval=False)},
    }


def unclean(table):
    spelt = {
        "E. coli": "Escherichia coli",
        "esccol": "Escherichia coli",
        "S. aureus": "Staphylococcus aureus",
        "staaur": "Staphylococcus aureus",
        "S. pneumoniae": "Streptococcus pneumoniae",
        "strpne": "Streptococcus pneumoniae",
        "K. pneumoniae": "Klebsiella pneumoniae",
        "klepne": "Klebsiella pneumoniae",
    }
    table = table.assign(organism=table.bacteria.replace(spelt), day=pd.to_datetime(table.date))
    return {
        "rows": len(table),
        "sets": table.groupby(["patient_id", "day"]).ngroups,
        "organisms": {name: int(count) for name, count in table.organism.value_counts().sort_index().items()},
    }


def main():
    folder, out = pathlib.Path(sys.argv[1]), pathlib.Path(sys.argv[2])
    result = {"pandas": pd.__version__, "mimic": None, "amr": None, "unclean_csv": None, "unclean_xlsx": None}
    if (folder / "mimic-iii-demo").is_dir():
        result["mimic"] = mimic(folder / "mimic-iii-demo")
    isolates = folder / "amr-example-isolates"
    if isolates.is_dir():
        result["amr"] = amr(isolates)
        result["unclean_csv"] = unclean(pd.read_csv(isolates / "example_isolates_unclean.csv"))
        result["unclean_xlsx"] = unclean(pd.read_excel(isolates / "example_isolates_unclean.xlsx"))
    out.write_text(json.dumps(result, indent=2) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
