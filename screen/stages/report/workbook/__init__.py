"""The workbook: every table as a sheet, with formulas to check by."""
