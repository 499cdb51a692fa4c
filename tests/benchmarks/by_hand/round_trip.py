"""(a) The plain round trip: `round_trip IN.csv OUT.csv` reads a file with pandas and writes it again."""

import sys

import pandas as pd

pd.read_csv(sys.argv[1]).to_csv(sys.argv[2], index=False)
