"""The way through, one folder a stage. Only `screen.pipeline` knows the order."""
