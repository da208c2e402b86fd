"""Size of the released program, and how long a build takes after one handler
was touched.

    python3 build_times.py PROGRAM
"""

import json
import subprocess
import sys
import time
from pathlib import Path

HANDLER = Path("api/src/shops/http.rs")


def build(*more):
    begun = time.perf_counter()
    subprocess.run(["cargo", "build", "--workspace", "--bin", "onetrip", *more], check=True,
                   stderr=subprocess.DEVNULL)
    return time.perf_counter() - begun


def after_a_touch(*more):
    """A comment more in one handler, taken out again."""
    build(*more)
    text = HANDLER.read_text()
    try:
        HANDLER.write_text(text + "\n// touched\n")
        return build(*more)
    finally:
        HANDLER.write_text(text)
        build(*more)


print(json.dumps({
    "bytes": Path(sys.argv[1]).stat().st_size,
    "second_build_seconds": after_a_touch(),
    "second_release_build_seconds": after_a_touch("--release"),
}))
