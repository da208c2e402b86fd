"""How soon a server records and reports after its start, and what memory it
holds.

    python3 start.py PROGRAM DATA_FOLDER [PROGRAM'S EXTRA ARGUMENTS]
"""

import json
import re
import subprocess
import sys
import time
import urllib.request


def memory_mb(pid, key):
    with open(f"/proc/{pid}/status") as status:
        line = next(line for line in status if line.startswith(key))
    return int(line.split()[1]) / 1024


def main():
    program, data, *more = sys.argv[1:]
    begun = time.perf_counter()
    server = subprocess.Popen([program, "serve", "--data", data, "--listen", "127.0.0.1:0", *more],
                              stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
    try:
        address = re.search(r"http://\S+?(?=/?\s*$)", server.stdout.readline()).group()
        recording = reports = None
        told = {}
        while reports is None and time.perf_counter() - begun < 120:
            try:
                with urllib.request.urlopen(f"{address}/readyz", timeout=5) as answer:
                    told = json.load(answer)
                now = time.perf_counter() - begun
                recording = recording or now
                if told["reports"]["ready"] == told["reports"]["of"]:
                    reports = now
            except OSError:
                pass
            time.sleep(0.02)
        print(json.dumps({
            "recording_seconds": recording, "reports_seconds": reports,
            "shops": told.get("reports", {}).get("of"),
            "memory_mb": memory_mb(server.pid, "VmRSS"),
            "most_memory_mb": memory_mb(server.pid, "VmHWM"),
        }))
    finally:
        server.terminate()
        server.wait()


if __name__ == "__main__":
    main()
