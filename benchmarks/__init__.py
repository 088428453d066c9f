"""Speed and quality, run by hand; as for the command, no library multiplies on more than one core."""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
