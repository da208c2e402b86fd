"""What the document cannot say: which version of a record stands now."""

import itertools
import os
import re
import threading

import requests
import schemathesis

SIGNED_IN = {"Authorization": f"Bearer {os.environ['ONETRIP_TOKEN']}"}
READABLE = re.compile(r"^(.*/shops/[^/]+/(?:orders|jobs|vehicles|comebacks|people)/[^/?]+|.*/codes/[^/]+/[^/?]+)")
turns = itertools.count()
own = threading.local()


@schemathesis.hook
def before_call(context, case, kwargs):
    """Three times in four a write says it saw what stands."""
    record = READABLE.match(case.formatted_path)
    if "If-Match" not in (case.headers or {}) or record is None or next(turns) % 4 == 0:
        return
    if not hasattr(own, "session"):
        own.session = requests.Session()
    read = own.session.get(case.operation.base_url.rstrip("/") + record.group(1), headers=SIGNED_IN, timeout=30)
    if "ETag" in read.headers:
        case.headers["If-Match"] = read.headers["ETag"]
