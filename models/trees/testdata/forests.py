"""Grow scikit-learn's forests on the tables of the test beside this file.

Reads one JSON value from stdin: a list of {"columns", "target", "test",
"trees", "try", "min_leaf"}, with columns as lists, targets as one or two numbers
a row and rows to answer. Writes a list of {"answers", "seconds"}, the time being
that of fit alone, on as many processors as "processors" says.
"""

import json
import sys
import time

import numpy
from sklearn.ensemble import RandomForestRegressor

out = []
for job in json.load(sys.stdin):
    x = numpy.array(job["columns"]).T
    y = numpy.array(job["target"])
    forest = RandomForestRegressor(
        n_estimators=job["trees"],
        max_features=job["try"],
        min_samples_leaf=job["min_leaf"],
        n_jobs=job["processors"],
        random_state=1,
    )
    start = time.perf_counter()
    forest.fit(x, y)
    seconds = time.perf_counter() - start
    answers = forest.predict(numpy.array(job["test"])).reshape(len(job["test"]), -1)
    out.append({"answers": answers.tolist(), "seconds": seconds})
json.dump(out, sys.stdout)
