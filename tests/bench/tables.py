"""Writes the record of a data folder as typed tables, for the other engines.

    python3 tables.py DATA_FOLDER OUT_FOLDER

One Parquet file a table. Ids become places (int32), words and names become
dictionary columns, days are days since 1970-01-01 in the shop's own calendar,
as the record keeps them. Nothing is joined, filtered or worked out beyond
that, but two things that the record keeps as instants or by reference: a
labor entry's whole minutes, and who answers for a trainee that led a job.
"""

import sqlite3
import sys
from datetime import date
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq

EPOCH = date(1970, 1, 1).toordinal()


def columns(conn, sql, width):
    """The answer's columns as lists."""
    lists = [[] for _ in range(width)]
    cursor = conn.execute(sql)
    cursor.arraysize = 50_000
    while rows := cursor.fetchmany():
        for column, values in zip(lists, zip(*rows)):
            column.extend(values)
    return lists


def days(texts):
    known = {}
    for text in set(texts):
        known[text] = date.fromisoformat(text).toordinal() - EPOCH if text else None
    return pa.array([known[text] for text in texts], pa.int32())


def words(texts):
    return pa.array(texts, pa.string()).dictionary_encode()


def places(ids, of):
    """Place of each id in another table; rows whose id is not there: -1."""
    return np.fromiter((of.get(one, -1) for one in ids), np.int32, len(ids))


def milliseconds(column):
    """An instant, kept as text in UTC, since 1970."""
    return (f"(CAST(strftime('%s', {column}) AS INTEGER) * 1000"
            f" + CAST(substr(strftime('%f', {column}), 4) AS INTEGER))")


def main(folder, out):
    out.mkdir(parents=True, exist_ok=True)
    conn = sqlite3.connect(f"file:{folder}/onetrip.sqlite?mode=ro", uri=True)

    def write(name, **made):
        table = pa.table(made)
        pq.write_table(table, out / f"{name}.parquet", compression="none")
        print(f"{name}: {table.num_rows} rows, {table.nbytes} bytes")

    ids, codes, starts, links_from = columns(
        conn, "SELECT id, code, week_start, links_from FROM shop ORDER BY id", 4)
    write("shop", shop=pa.array(ids, pa.int32()), code=words(codes),
          week_start=pa.array(starts, pa.int32()), links_from=days(links_from))
    people = dict(conn.execute("SELECT id, name FROM person"))

    supervisors = {}
    for job, person in conn.execute(
            "SELECT e.job_id, e.supervisor_id FROM labor_entry e JOIN job j"
            " ON j.shop_id = e.shop_id AND j.id = e.job_id WHERE e.supervisor_id IS NOT NULL"
            " AND j.lead_id = e.person_id ORDER BY e.job_id DESC, e.started_at DESC, e.id DESC"):
        supervisors[job] = person
    for job, person in conn.execute(
            "SELECT p.job_id, p.supervisor_id FROM job_person p JOIN job j"
            " ON j.shop_id = p.shop_id AND j.id = p.job_id WHERE p.supervisor_id IS NOT NULL"
            " AND j.lead_id = p.person_id"):
        supervisors[job] = person

    (shop, job_ids, kind, outcome, symptom, cause_state, lead, closed) = columns(
        conn, "SELECT j.shop_id, j.id, j.kind, j.outcome, j.symptom, j.cause_state, j.lead_id,"
        " o.closed_on FROM job j JOIN repair_order o ON o.shop_id = j.shop_id"
        " AND o.id = j.order_id WHERE o.status = 'closed' AND j.outcome IS NOT NULL", 8)
    job_of = {one: place for place, one in enumerate(job_ids)}
    answers = [supervisors.get(job) or who for job, who in zip(job_ids, lead)]
    write("job", job=pa.array(range(len(job_ids)), pa.int32()), shop=pa.array(shop, pa.int32()),
          kind=words(kind), outcome=words(outcome), symptom=words(symptom),
          cause_state=words(cause_state),
          technician=words([people.get(one) for one in answers]),
          lead=words([people.get(one) for one in lead]), closed_day=days(closed))

    earlier, later, opened, state, same, reason = columns(
        conn, "SELECT c.earlier_job_id, c.later_job_id, o.opened_on, c.state, c.same_complaint,"
        " c.reason FROM comeback c JOIN job j ON j.shop_id = c.shop_id AND j.id = c.later_job_id"
        " JOIN repair_order o ON o.shop_id = j.shop_id AND o.id = j.order_id"
        " WHERE o.status <> 'void'", 6)
    write("comeback", earlier=places(earlier, job_of), later=places(later, job_of),
          opened_day=days(opened), state=words(state), same_complaint=pa.array(same, pa.int8()),
          reason=words(reason))
    earlier, later = columns(conn, "SELECT earlier_job_id, later_job_id FROM planned_visit", 2)
    write("planned_visit", earlier=places(earlier, job_of), later=places(later, job_of))
    jobs, told, told_on = columns(conn, "SELECT job_id, told, told_on FROM outside_return", 3)
    write("told", job=places(jobs, job_of), told=words(told), told_day=days(told_on))

    jobs, seq, code, finding, minutes, at_close = columns(
        conn, "SELECT job_id, seq, code, finding, minutes, typed_at_close FROM job_check", 6)
    write("checks", job=places(jobs, job_of), seq=pa.array(seq, pa.int32()), code=words(code),
          finding=words(finding), minutes=pa.array(minutes, pa.int32()),
          typed_at_close=pa.array(at_close, pa.int8()))

    uses, jobs, number, name, disposition, role = columns(
        conn, "SELECT id, job_id, part_no, name, disposition, role FROM part_use", 6)
    use_of = {one: place for place, one in enumerate(uses)}
    write("part_use", part_use=pa.array(range(len(uses)), pa.int32()), job=places(jobs, job_of),
          part=words([a or b for a, b in zip(number, name)]), disposition=words(disposition),
          role=words(role))
    uses, opened, state = columns(
        conn, "SELECT r.part_use_id, o.opened_on, r.state FROM part_return r JOIN job j"
        " ON j.shop_id = r.shop_id AND j.id = r.later_job_id JOIN repair_order o"
        " ON o.shop_id = j.shop_id AND o.id = j.order_id WHERE o.status <> 'void'", 3)
    write("part_return", part_use=places(uses, use_of), opened_day=days(opened),
          state=words(state))

    jobs, who, activity, started, minutes = columns(
        conn, "SELECT job_id, person_id, activity, started_on, ((" + milliseconds("ended_at")
        + " - " + milliseconds("started_at") + ") / 1000 + 30) / 60 FROM labor_entry"
        " WHERE ended_at IS NOT NULL", 5)
    write("labor", job=places(jobs, job_of), technician=words([people.get(one) for one in who]),
          activity=words(activity), started_day=days(started),
          minutes=pa.array(minutes, pa.int32()))
    jobs, code, flat, billed, amount = columns(
        conn, "SELECT job_id, code, flat_rate_hundredths, billed_hundredths, labor_amount_minor"
        " FROM job_operation", 5)
    write("operation", job=places(jobs, job_of), code=words(code),
          flat_rate_hundredths=pa.array(flat, pa.int64()),
          billed_hundredths=pa.array(billed, pa.int64()),
          labor_amount_minor=pa.array(amount, pa.int64()))


if __name__ == "__main__":
    main(Path(sys.argv[1]), Path(sys.argv[2]))
