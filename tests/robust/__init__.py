"""What the tool keeps to under bad input, faults and hostile files."""
