"""Leaklore: leak cases in, a searchable field guide and case library out."""

import os

# The matrices here are small: threads would cost more than they save, and take the cores from our own processes.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

__version__ = "0.1.0"
