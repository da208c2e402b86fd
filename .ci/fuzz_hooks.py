"""What the document cannot say: which version of a record stands now, and which
keys were used before."""

import itertools
import os
import re
import threading
import uuid

import requests
import schemathesis

SIGNED_IN = {"Authorization": f"Bearer {os.environ['ONETRIP_TOKEN']}"}
READABLE = re.compile(r"^(.*/shops/[^/]+/(?:orders|jobs|vehicles|comebacks|people)/[^/?]+|.*/codes/[^/]+/[^/?]+)")
turns = itertools.count()
own = threading.local()


@schemathesis.hook
def before_call(context, case, kwargs):
    """Three times in four a write has a new key and says it saw what stands."""
    headers = case.headers or {}
    if next(turns) % 4 == 0:
        return
    if "Idempotency-Key" in headers:
        headers["Idempotency-Key"] = str(uuid.uuid4())
    record = READABLE.match(case.formatted_path)
    if "If-Match" not in headers or record is None:
        return
    if not hasattr(own, "session"):
        own.session = requests.Session()
    read = own.session.get(case.operation.base_url.rstrip("/") + record.group(1), headers=SIGNED_IN, timeout=30)
    if "ETag" in read.headers:
        headers["If-Match"] = read.headers["ETag"]
