"""Writing what was found: tables, workbook, page."""
