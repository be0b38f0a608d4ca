"""What people touch: the command line and the page."""

import os

# Read when NumPy comes, which is later: products are small here, and waking BLAS's threads for them
# takes longer than multiplying.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
