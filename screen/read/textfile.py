"""Text tables and Parquet: a file in, one coded grid out; encoding and delimiter are found, records are counted."""
