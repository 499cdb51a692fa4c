"""Large batches: in parts, killed and gone on with, on a cluster."""
