"""Records: one per value cell, and what each says: substance, number, unit, basis, sample."""
