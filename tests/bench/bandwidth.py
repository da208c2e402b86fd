"""What this machine's memory gives one thread that reads along: the sum of a
gibibyte of integers, in bytes a second (median of nine)."""

import json
import time
from statistics import median

import numpy as np

numbers = np.ones(1 << 27, np.int64)
numbers.sum()
took = []
for _ in range(9):
    begun = time.perf_counter()
    numbers.sum()
    took.append(time.perf_counter() - begun)
print(json.dumps({"bytes_per_second": numbers.nbytes / median(took)}))
