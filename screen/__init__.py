"""Siltmark: what a batch of sediment laboratory results means, every figure traceable to its cell."""
