"""Mutation testing of all that works with figures. Libraries get one thread each: a fork has no others."""

import os

for _name in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "ARROW_NUM_THREADS"):
    os.environ.setdefault(_name, "1")
