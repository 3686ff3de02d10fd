"""Monthly contamination of a file of `wardwright bench-data`, by Polars. The rule is in rule.md.

The scan is lazy and only the five columns that are needed are read, by the streaming engine. Series are worked out for
patients with a lone commensal only.
"""
import os
import pathlib
import sys

os.environ["POLARS_MAX_THREADS"] = sys.argv[2]
import polars as pl  # noqa: E402

file = sys.argv[1]
group = "Coagulase-negative staphylococci"
names = pl.read_csv(pathlib.Path(__file__).with_name("organisms.csv")).drop("stops_at_group")
time = "%Y-%m-%d %H:%M"
rows = (
    pl.scan_csv(file, schema_overrides={"specimen": pl.String, "patient": pl.String})
    .select("specimen", "patient", "collected", "received", "organism", "status")
)
# Which organism a row names is asked once for every different name.
lone = pl.col("organism").replace_strict(names["organism"], names["name"], default=None)
kind = pl.col("organism").replace_strict(names["organism"], names["kind"], default=None)
sets = (
    rows.with_columns(name=lone, kind=kind)
    .group_by("specimen")
    .agg(
        patient=pl.col("patient").first(),
        collected=pl.col("collected").min(),
        received=pl.col("received").min(),
        recognised=(pl.col("kind") == "recognised").any(),
        commensals=pl.col("name").filter(pl.col("kind") == "commensal"),
        given=(pl.col("status") != "cancelled").any(),
    )
    .filter("given")
    # Times as text keep their order, so only one for each set is parsed.
    .with_columns(taken=pl.min_horizontal("collected", "received").str.to_datetime(time))
    .select("specimen", "patient", "taken", "recognised", pl.col("commensals").list.unique())
    .collect(engine="streaming")
)
alone = (pl.col("commensals").list.len() > 0) & ~pl.col("recognised")
near = sets.join(sets.filter(alone).select("patient").unique(), on="patient", how="semi").sort("patient", "taken")
# Round after round each patient's earliest set that has no series starts one.
parts, left = [], near
while left.height:
    left = left.with_columns(start=pl.col("taken").min().over("patient"))
    inside = pl.col("taken") <= pl.col("start") + pl.duration(hours=24)
    parts.append(left.filter(inside))
    left = left.filter(~inside).drop("start")
series = pl.concat(parts).with_columns(n_sets=pl.len().over("patient", "start"))
grown = series.select("specimen", "patient", "start", name="commensals").explode("name").drop_nulls("name")
one, other = pl.col("name"), pl.col("name_other")
matched = (
    grown.join(grown, on=["patient", "start"], suffix="_other")
    .filter(pl.col("specimen") != pl.col("specimen_other"))
    .filter(
        (one == other)
        | (one.str.starts_with("Staphylococcus ") & (other == group))
        | (other.str.starts_with("Staphylococcus ") & (one == group))
    )
    .select("specimen")
    .unique()
)
contaminated = (
    series.filter(alone & (pl.col("n_sets") > 1))
    .join(matched, on="specimen", how="anti")
    .group_by(month=pl.col("taken").dt.strftime("%Y-%m"))
    .agg(contaminated=pl.len())
)
months = (
    sets.group_by(month=pl.col("taken").dt.strftime("%Y-%m"))
    .agg(sets=pl.len())
    .join(contaminated, on="month", how="left")
    .sort("month")
)
for month, n, bad in months.iter_rows():
    print(f"{month},{n},{bad or 0}")
