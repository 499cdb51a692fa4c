"""What distinct texts of a sheet mean: numbers, flags, dates, lengths, headers; no table, no record."""
