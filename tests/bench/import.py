"""Times `onetrip import` against the sqlite3 shell's .import of the same files.

Both run on the same machine in turn. The shell loads plain typed tables: no
keys, no indexes, no checks, no references. Printed as JSON: seconds of every
round, medians, their ratio, the peak memory of the import, and whether rows and
a second export are equal to the first.
"""

import json
import os
import re
import shlex
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from pathlib import Path

ONETRIP = os.environ["ONETRIP"]
FILES = ["orders", "jobs", "operations", "checks", "parts", "labor"]
# Where the record keeps the rows of a file.
TABLES = {
    "orders": "repair_order WHERE status <> 'void'",
    "jobs": "job",
    "operations": "job_operation WHERE line > 1",
    "checks": "job_check",
    "parts": "part_use",
    "labor": "labor_entry WHERE ended_at IS NOT NULL",
}
WHOLE = {
    "job_no", "model_year", "odometer_in", "odometer_out", "returned_from_job", "seq", "minutes",
    "line",
}
REAL = {
    "flat_rate_hours", "billed_hours", "labor_amount", "reading", "quantity", "unit_cost",
    "unit_price", "bench_reading",
}


def timed(command, **more):
    """Seconds, peak memory in MiB and what was said on standard error."""
    with tempfile.TemporaryFile("w+") as said:
        start = time.monotonic()
        child = subprocess.Popen(command, stderr=said, **more)
        _, status, usage = os.wait4(child.pid, 0)
        seconds = time.monotonic() - start
        said.seek(0)
        words = said.read()
    if os.waitstatus_to_exitcode(status) != 0:
        sys.exit(f"{shlex.join(map(str, command))}: {words}")
    return seconds, usage.ru_maxrss / 1024, words


def sets(folder):
    """The folders that hold a shop's files, by the shop's code."""
    if (folder / "orders.csv").exists():
        return {"": folder}
    return {path.name.split("-", 1)[1]: path for path in sorted(folder.iterdir()) if path.is_dir()}


def settings(words):
    """What an export says new shops need, without the name of one of them."""
    said = re.search(r"add: (.*)", words).group(1)
    return shlex.split(re.sub(r" --name '.*'", "", said))


def columns_of(path):
    with path.open(encoding="utf-8") as lines:
        return lines.readline().strip().split(",")


def script_of(files):
    """What the shell is told: typed tables, then every file."""
    lines, made = [".mode csv"], set()
    for folder in sets(files).values():
        for name in FILES:
            path = folder / f"{name}.csv"
            if not path.exists():
                continue
            if name not in made:
                made.add(name)
                kinds = ", ".join(
                    f'"{column}" '
                    + ("INTEGER" if column in WHOLE else "REAL" if column in REAL else "TEXT")
                    for column in columns_of(path)
                )
                lines.append(f"CREATE TABLE {name} ({kinds});")
            lines.append(f'.import --skip 1 "{path}" {name}')
    return "\n".join(lines) + "\n"


def counted(database, froms):
    sql = "; ".join(f"SELECT count(*) FROM {table}" for table in froms)
    told = subprocess.run(["sqlite3", database, sql], check=True, capture_output=True, text=True)
    return [int(line) for line in told.stdout.split()]


def by_shell(files, work):
    database = work / "plain.sqlite"
    with tempfile.TemporaryFile("w+") as script:
        script.write(script_of(files))
        script.seek(0)
        seconds, _, _ = timed(["sqlite3", str(database)], stdin=script)
    names = [name for name in FILES if exists(files, name)]
    rows = dict(zip(names, counted(database, names), strict=True))
    database.unlink()
    return seconds, rows


def exists(files, name):
    return any((folder / f"{name}.csv").exists() for folder in sets(files).values())


def by_onetrip(files, place, more):
    seconds, peak, _ = timed([ONETRIP, "--data", str(place), "import", str(files), *more])
    names = [name for name in FILES if exists(files, name)]
    counts = counted(place / "onetrip.sqlite", [TABLES[name] for name in names])
    return seconds, peak, dict(zip(names, counts, strict=True))


def same(first, second):
    """Whether two exports are equal, byte by byte, shop by shop."""
    one, other = sets(first), sets(second)
    if one.keys() != other.keys():
        return False
    for code, folder in one.items():
        for name in FILES:
            pair = [path / f"{name}.csv" for path in (folder, other[code])]
            there = [path.exists() for path in pair]
            if there[0] != there[1]:
                return False
            if there[0] and subprocess.run(["cmp", "-s", *pair], check=False).returncode != 0:
                return False
    return True


def main():
    data, rounds = sys.argv[1], int(sys.argv[2]) if len(sys.argv) > 2 else 3
    with tempfile.TemporaryDirectory(dir=os.environ.get("TMPDIR")) as around:
        work = Path(around)
        files, place = work / "files", work / "place"
        export_seconds, _, words = timed([ONETRIP, "--data", data, "export", str(files)])
        more = settings(words)
        imports, shells, peaks, rows_equal = [], [], [], True
        for _ in range(rounds):
            shutil.rmtree(place, ignore_errors=True)
            seconds, peak, taken = by_onetrip(files, place, more)
            plain_seconds, plain = by_shell(files, work)
            imports.append(seconds)
            shells.append(plain_seconds)
            peaks.append(peak)
            rows_equal &= taken == plain
        again = work / "again"
        timed([ONETRIP, "--data", str(place), "export", str(again)])
        median, plain_median = statistics.median(imports), statistics.median(shells)
        answer = {
            "rows": plain,
            "bytes": sum(path.stat().st_size for path in files.rglob("*.csv")),
            "export_seconds": round(export_seconds, 2),
            "import_seconds": [round(seconds, 2) for seconds in imports],
            "shell_seconds": [round(seconds, 2) for seconds in shells],
            "import_median": round(median, 2),
            "shell_median": round(plain_median, 2),
            "ratio": round(median / plain_median, 2),
            "peak_mib": round(max(peaks)),
            "rows_equal": rows_equal,
            "exports_equal": same(files, again),
        }
    print(json.dumps(answer, indent=2))
    if not (answer["rows_equal"] and answer["exports_equal"]):
        sys.exit("what came in is not what went out")


main()
