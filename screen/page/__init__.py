"""The local page, for people who never open a terminal. In: a folder and a port. Out: a server on 127.0.0.1.

The page does nothing of its own with results: it keeps the sheets of a batch and one settings file in a folder, lets
``siltmark`` read and screen them in a process of their own, and shows what came out.
"""
