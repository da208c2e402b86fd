"""Writes the measured figures as one page.

    python3 results.py MADE_FOLDER
"""

import json
import math
import platform
import re
import subprocess
import sys
from datetime import date
from pathlib import Path

MADE = Path(sys.argv[1])


def read(name):
    path = MADE / name
    return json.loads(path.read_text()) if path.exists() and path.stat().st_size else None


def standing(name):
    """Median milliseconds by figure, and the rows, of a run of the bench."""
    path = MADE / name
    if not path.exists():
        return None, {}
    text = path.read_text()
    jobs = int(re.search(r"(\d+) jobs", text).group(1))
    return jobs, {m[1]: float(m[2]) for m in re.finditer(r"^(\S+)\tmedian ([\d.]+) ms", text, re.M)}


def said(command):
    try:
        return subprocess.run(command, capture_output=True, text=True).stdout.strip()
    except OSError:
        return "?"


def machine():
    cpu = re.search(r"model name\s*: (.*)", Path("/proc/cpuinfo").read_text())
    memory = int(re.search(r"MemTotal:\s*(\d+)", Path("/proc/meminfo").read_text()).group(1))
    cores = said(["nproc"])
    print(f"{cpu.group(1) if cpu else platform.machine()}, {cores} cores, "
          f"{memory / 2**20:.0f} GiB; Linux {platform.release()}; {said(['rustc', '--version'])}; "
          f"Python {platform.python_version()}. Measured on {date.today()}.\n")


def table(head, rows):
    print("| " + " | ".join(head) + " |")
    print("|" + "---|" * len(head))
    for row in rows:
        print("| " + " | ".join(str(cell) for cell in row) + " |")
    print()


def figures():
    jobs, took = standing("standing.txt")
    if jobs is None:
        return
    print("## The five standing figures, tallied anew from the live history\n")
    print(f"{jobs:,} jobs. The engines work on their own typed tables in memory; all print the same"
          " digest, byte by byte (`figures.md`), before their times are taken.\n")
    peers = [json.loads(line) for line in (MADE / "peers.json").read_text().splitlines()]
    own = took["all"] / 1000
    rows = [["onetrip", f"{own:.3f}", "1"]]
    rows += [[one["engine"], f"{one['seconds']:.2f}", f"{one['seconds'] / own:.0f}"]
             for one in peers]
    table(["engine", "seconds (median)", "times onetrip"], rows)
    table(["figure, alone", "ms (median)"], [[name, ms] for name, ms in took.items()])
    speed = read("bandwidth.json")
    if speed:
        rate = speed["bytes_per_second"] / 1e9
        # Columns that are read: 40 bytes a job kept at entry, 4 a part use.
        size = jobs * 44 / 1e9
        print(f"One thread reads memory at {rate:.1f} GB/s here; the columns under the figures are "
              f"about {size * 1000:.0f} MB: {size / rate * 1000:.0f} ms if nothing else cost time.\n")


def growth():
    points = []
    for path in sorted(MADE.glob("growth-*.txt")):
        jobs, took = standing(path.name)
        points.append((jobs, took["all"]))
    points.sort()
    if len(points) < 2:
        return
    print("## Growth\n")
    table(["jobs", "five figures, ms"], [[f"{jobs:,}", ms] for jobs, ms in points])
    (least, first), (most, last) = points[0], points[-1]
    print(f"Exponent from the smallest to the largest: "
          f"{math.log(last / first) / math.log(most / least):.2f}.\n")


def flat(title, name):
    found = read(name)
    if found is None:
        return
    print(f"## {title}\n")

    def walk(value, path):
        if isinstance(value, dict):
            for key, inner in value.items():
                yield from walk(inner, [*path, key])
        else:
            shown = f"{value:.3g}" if isinstance(value, float) and value < 100 else value
            yield [" / ".join(path), f"{shown:.0f}" if isinstance(shown, float) else shown]

    table(["what", "measured"], walk(found, []))


print("# What was measured\n")
print("Made by `bash tests/bench/run`. Times of one machine say little; the ratios are what counts.\n")
machine()
figures()
growth()
flat("Reports after one more closed job (a shop of 50,000), the weekly page's first byte",
     "reports.json")
flat("Closes, beside a bare handler (small record)", "closes.json")
flat("Closes, beside a bare handler (the whole record)", "closes-whole.json")
flat("Many kinds of requests at once", "mixed.json")
flat("Import", "import.json")
flat("Start and memory", "start.json")
flat("The program and its builds", "build.json")
