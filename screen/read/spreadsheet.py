"""Spreadsheets: the bytes of an .xlsx, .xls or .ods file in, one coded grid per sheet out."""
