"""A batch in parts: samples with all that belongs to them, so that only one part need be in memory at a time.

In: a gathered batch. Out: its tables, the same byte for byte however many parts it was cut into.
"""
