"""The standing figures by DuckDB, from its own typed tables in memory."""

import duckdb
from digest import run

SHARES = """
    WITH times AS (SELECT {group}, least(time, 401) AS t, sum(event)::BIGINT AS d, count(*) AS c
                   FROM {cases} GROUP BY ALL),
    risk AS (SELECT *, sum(c) OVER (PARTITION BY {group} ORDER BY t DESC) AS n FROM times),
    cut AS (SELECT {group}, sum(c)::BIGINT AS n, {cuts} FROM risk GROUP BY {group})
    SELECT {group}, n, {shown} FROM cut"""
CUT = """coalesce(product(CASE WHEN d > 0 AND t <= {w} THEN (n - d) / n END), 1.0) AS s{w},
    coalesce(sum(c) FILTER (t >= {w}), 0) AS left{w},
    coalesce(sum(d) FILTER (t <= {w}), 0)::BIGINT AS back{w}"""


def shares(conn, cases, group, windows, shown=""):
    cuts = ", ".join(CUT.format(w=w) for w in windows)
    said = ", ".join(f"CASE WHEN left{w} > 0 OR s{w} <= 0 THEN 1 - s{w} END" for w in windows)
    return conn.execute(SHARES.format(group=group, cases=cases, cuts=cuts,
                                      shown=shown + said)).fetchall()


def load(paths):
    conn = duckdb.connect()
    for name, path in paths.items():
        columns = conn.execute(f"DESCRIBE SELECT * FROM '{path}'").fetchall()
        conn.execute(f"CREATE TABLE raw AS SELECT * FROM '{path}'")
        # Words and names as its own dictionary type.
        for column, kind, *_ in columns:
            if kind == "VARCHAR":
                conn.execute(f"CREATE TYPE {name}_{column} AS ENUM"
                             f" (SELECT DISTINCT {column} FROM raw WHERE {column} IS NOT NULL"
                             f" ORDER BY {column})")
        typed = ", ".join(f"{c}::{name}_{c} AS {c}" if k == "VARCHAR" else c
                          for c, k, *_ in columns)
        conn.execute(f"CREATE TABLE {name} AS SELECT {typed} FROM raw")
        conn.execute("DROP TABLE raw")
    return conn


def facts(conn, as_of, _):
    """What several figures stand on."""
    conn.execute(f"""
        CREATE OR REPLACE TEMP TABLE closed AS SELECT * FROM job WHERE closed_day <= {as_of};
        CREATE OR REPLACE TEMP TABLE link AS
            SELECT c.earlier, c.later, c.opened_day - j.closed_day AS days
            FROM comeback c JOIN job j ON j.job = c.earlier
            WHERE c.state = 'confirmed' AND c.opened_day >= j.closed_day
              AND NOT EXISTS (FROM planned_visit p
                              WHERE p.earlier = c.earlier AND p.later = c.later);
        CREATE OR REPLACE TEMP TABLE first_return AS
            SELECT job, min(days) AS days FROM (
                SELECT earlier AS job, days FROM link
                UNION ALL SELECT t.job, t.told_day - j.closed_day FROM told t
                          JOIN job j ON j.job = t.job WHERE t.told_day >= j.closed_day)
            GROUP BY job;
        CREATE OR REPLACE TEMP TABLE first_job AS
            WITH RECURSIVE up(job, first) AS (
                SELECT later, earlier FROM link WHERE later >= 0
                UNION SELECT up.job, link.earlier FROM up JOIN link ON link.later = up.first)
            SELECT job, first FROM up WHERE first NOT IN (SELECT later FROM link);
        CREATE OR REPLACE TEMP TABLE cases AS
            SELECT j.job, j.symptom, j.closed_day,
                   j.closed_day - (j.closed_day + 3 - (s.week_start - 1)) % 7 AS week,
                   f.technician, r.days IS NOT NULL AND j.closed_day + r.days <= {as_of} AS event,
                   CASE WHEN r.days IS NOT NULL AND j.closed_day + r.days <= {as_of}
                        THEN r.days ELSE {as_of} - j.closed_day END AS time
            FROM closed j JOIN shop s ON s.shop = j.shop
            LEFT JOIN first_return r ON r.job = j.job
            LEFT JOIN first_job c ON c.job = j.job
            JOIN job f ON f.job = coalesce(c.first, j.job)
            WHERE j.kind = 'complaint' AND j.outcome = 'repaired'
              AND (s.links_from IS NULL OR j.closed_day >= s.links_from)""")


def cohorts(conn, as_of, made):
    facts(conn, as_of, made)
    made["cohort"] = shares(conn, "cases", "week", [30], "back30, ")


def returns(conn, as_of, made):
    made["symptom"] = shares(conn, "cases", "symptom", [30, 90, 365])
    made["technician"] = shares(conn, "cases", "technician", [30, 90, 365])
    conn.execute(f"""
        CREATE OR REPLACE TEMP TABLE uses AS
            WITH first AS (SELECT part_use, min(opened_day) AS day FROM part_return
                           WHERE state = 'confirmed' GROUP BY part_use)
            SELECT u.part, CASE WHEN u.disposition IN
                       ('replaced_new', 'replaced_rebuilt', 'replaced_used')
                       THEN 'replaced' ELSE u.disposition::VARCHAR END AS disposition, u.role,
                   f.day >= j.closed_day AND f.day <= {as_of} IS TRUE AS event,
                   CASE WHEN f.day >= j.closed_day AND f.day <= {as_of}
                        THEN f.day - j.closed_day ELSE {as_of} - j.closed_day END AS time
            FROM part_use u JOIN closed j ON j.job = u.job JOIN shop s ON s.shop = j.shop
            LEFT JOIN first f ON f.part_use = u.part_use
            WHERE j.outcome NOT IN ('declined', 'not_reproduced')
              AND (s.links_from IS NULL OR j.closed_day >= s.links_from)""")
    made["part"] = shares(conn, "uses", "part, disposition, role", [30, 90, 365])


def paths(conn, _, made):
    made["path"] = conn.execute("""
        WITH walked AS (
            SELECT c.job,
                list(c.code ORDER BY c.seq)
                    FILTER (finding IS DISTINCT FROM 'not_done' AND typed_at_close = 0) AS path,
                sum(c.minutes) FILTER (finding IS DISTINCT FROM 'not_done'
                                       AND typed_at_close = 0) AS minutes,
                bool_or(finding IS DISTINCT FROM 'not_done') AS done,
                bool_or(typed_at_close = 0) AS measured
            FROM checks c WHERE c.job >= 0 GROUP BY c.job),
        diagnosis AS (SELECT job, sum(minutes) AS minutes FROM labor
                      WHERE activity = 'diagnosis' GROUP BY job HAVING sum(minutes) > 0),
        jobs AS (
            SELECT j.symptom, w.path, coalesce(w.minutes, d.minutes) AS minutes
            FROM walked w JOIN closed j ON j.job = w.job LEFT JOIN diagnosis d ON d.job = w.job
            WHERE j.kind = 'complaint' AND j.symptom IS NOT NULL
              AND CASE WHEN w.done THEN w.path IS NOT NULL ELSE w.measured END)
        SELECT symptom, list_aggregate(path, 'string_agg', '>'), count(*), count(minutes),
               quantile_cont(minutes, 0.5)
        FROM jobs GROUP BY symptom, path""").fetchall()


def efficiency(conn, _, made):
    conn.execute("""
        CREATE OR REPLACE TEMP TABLE pieces AS
            SELECT l.job, l.technician, sum(l.minutes)::BIGINT AS clock, min(l.started_day) AS day
            FROM labor l JOIN closed j ON j.job = l.job GROUP BY ALL;
        CREATE OR REPLACE TEMP TABLE whole AS
            WITH clocked AS (SELECT job, sum(clock)::BIGINT AS clock FROM pieces GROUP BY job
                             HAVING sum(clock) > 0),
            flat AS (SELECT job, sum(flat_rate_hundredths)::BIGINT AS flat
                     FROM operation GROUP BY job)
            SELECT c.job, c.clock, CASE WHEN c.job IN (SELECT later FROM link) THEN 0
                                        ELSE coalesce(f.flat, 0) END AS flat
            FROM clocked c LEFT JOIN flat f ON f.job = c.job""")
    made["efficiency-symptom"] = conn.execute("""
        SELECT j.symptom, sum(w.flat)::BIGINT, sum(w.clock)::BIGINT
        FROM whole w JOIN closed j ON j.job = w.job GROUP BY j.symptom""").fetchall()
    made["efficiency-technician"] = conn.execute("""
        WITH parts AS (
            SELECT p.*, w.flat, w.flat * p.clock // w.clock AS got,
                   w.flat * p.clock % w.clock AS rest
            FROM pieces p JOIN whole w ON w.job = p.job),
        ranked AS (
            SELECT *, flat - sum(got) OVER (PARTITION BY job) AS missing,
                   row_number() OVER (PARTITION BY job
                                      ORDER BY rest DESC, day, technician::VARCHAR) AS place
            FROM parts)
        SELECT technician, sum(got + (place <= missing)::INT)::BIGINT, sum(clock)::BIGINT
        FROM ranked GROUP BY technician""").fetchall()


if __name__ == "__main__":
    run(f"DuckDB {duckdb.__version__}", load,
        {"cohorts": cohorts, "returns": returns, "paths": paths, "efficiency": efficiency})
