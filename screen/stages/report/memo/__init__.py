"""The memo: text and tables to paste."""
