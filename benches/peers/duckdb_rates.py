"""Monthly contamination of a file of `wardwright bench-data`, by DuckDB. The rule is in rule.md.

Only the five columns that are needed are read. Series are worked out for patients with a lone commensal only.
"""
import pathlib
import sys

import duckdb

file, threads = sys.argv[1], int(sys.argv[2])
names = pathlib.Path(__file__).with_name("organisms.csv")
db = duckdb.connect(config={"threads": threads, "preserve_insertion_order": False})
text = {
    name: "VARCHAR"
    for name in "specimen,patient,collected,received,unit,collector,site,bottle,fill_ml,organism,status".split(",")
}
# Times parse faster by one stated format than by a search for it.
text["collected"] = text["received"] = "TIMESTAMP"
db.execute(
    """
    CREATE TABLE sets AS
    WITH names AS (SELECT * FROM read_csv(?, header = true))
    SELECT rows.specimen, any_value(patient) AS patient,
           CASE WHEN min(collected) > min(received) THEN min(received) ELSE min(collected) END AS taken,
           coalesce(bool_or(kind = 'recognised'), false) AS recognised,
           list(DISTINCT names.name) FILTER (kind = 'commensal') AS commensals
    FROM read_csv(?, header = true, delim = ',', quote = '"', columns = ?, timestampformat = '%Y-%m-%d %H:%M',
                  auto_detect = false) AS rows
    LEFT JOIN names USING (organism)
    GROUP BY rows.specimen
    HAVING bool_or(status <> 'cancelled')
    """,
    [str(names), file, text],
)
db.execute(
    """
    CREATE TABLE near AS
    SELECT specimen, patient, taken, recognised, commensals FROM sets
    WHERE patient IN (SELECT patient FROM sets WHERE len(commensals) > 0 AND NOT recognised)
    """
)
# Round after round each patient's earliest set that has no series starts one.
db.execute(
    """
    CREATE TABLE series AS
    WITH RECURSIVE starts AS (
        SELECT patient, min(taken) AS start FROM near GROUP BY patient
        UNION ALL
        SELECT near.patient, min(near.taken)
        FROM near JOIN starts ON near.patient = starts.patient AND near.taken > starts.start + INTERVAL 24 HOUR
        GROUP BY near.patient, starts.start
    )
    SELECT near.*, starts.start, count(*) OVER (PARTITION BY near.patient, starts.start) AS n_sets
    FROM near ASOF JOIN starts ON near.patient = starts.patient AND near.taken >= starts.start
    """
)
result = db.execute(
    """
    WITH grown AS (SELECT specimen, patient, start, unnest(commensals) AS name FROM series),
    matched AS (
        SELECT DISTINCT one.specimen FROM grown one JOIN grown other
        ON one.patient = other.patient AND one.start = other.start AND one.specimen <> other.specimen
        WHERE one.name = other.name
           OR (one.name LIKE 'Staphylococcus %' AND other.name = 'Coagulase-negative staphylococci')
           OR (other.name LIKE 'Staphylococcus %' AND one.name = 'Coagulase-negative staphylococci')
    ),
    contaminated AS (
        SELECT specimen FROM series
        WHERE len(commensals) > 0 AND NOT recognised AND n_sets > 1
          AND specimen NOT IN (SELECT specimen FROM matched)
    )
    SELECT strftime(taken, '%Y-%m') AS month, count(*) AS sets, count(contaminated.specimen) AS contaminated
    FROM sets LEFT JOIN contaminated USING (specimen) GROUP BY month ORDER BY month
    """
).fetchall()
for month, sets, contaminated in result:
    print(f"{month},{sets},{contaminated}")
