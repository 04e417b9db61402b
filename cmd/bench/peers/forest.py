"""Grow scikit-learn's forest on the tables that bench wrote, and answer with it.

Usage: forest.py DIR COLUMNS TREES TRY MIN_LEAF PROCESSORS. Prints wall and processor
seconds of both as JSON, reading left out, and the mean absolute error.
"""

import json
import os
import sys
import time

import numpy
from sklearn.ensemble import RandomForestRegressor

folder, columns, trees, most, leaf, processors = sys.argv[1], *map(int, sys.argv[2:])


def read(name):
    table = numpy.fromfile(os.path.join(folder, name)).reshape(-1, columns + 1)
    return numpy.ascontiguousarray(table[:, :columns]), table[:, columns].copy()


x, y = read("train.f8")
ask, truth = read("test.f8")
forest = RandomForestRegressor(n_estimators=trees, max_features=most, min_samples_leaf=leaf, n_jobs=processors, random_state=1)
wall, cpu = time.perf_counter(), time.process_time()
forest.fit(x, y)
fitted, fitted_cpu = time.perf_counter(), time.process_time()
error = float(numpy.abs(forest.predict(ask) - truth).mean())
done, done_cpu = time.perf_counter(), time.process_time()
json.dump({"fit_s": fitted - wall, "fit_cpu_s": fitted_cpu - cpu, "predict_s": done - fitted, "predict_cpu_s": done_cpu - fitted_cpu, "error": error}, sys.stdout)
